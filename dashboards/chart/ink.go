package chart

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"image/color"
	"strings"
)

// Ink is a colour by its role. It is a color.Color with its light value, for
// the PNG; the SVG writes its class, which has a light and a dark value.
type Ink struct {
	class       string
	light, dark color.NRGBA
}

// RGBA is the light value.
func (i Ink) RGBA() (r, g, b, a uint32) { return i.light.RGBA() }

// The inks of a chart. The pages use the same values, in frame.css; a test
// holds the two against each other.
var (
	Paper  = Ink{"paper", rgb(0xfcfaf5), rgb(0x1b1a18)}
	Text   = Ink{"text", rgb(0x5a554c), rgb(0xb5aea1)}
	Rule   = Ink{"rule", rgb(0xddd7ca), rgb(0x38352f)}
	Faint  = Ink{"faint", rgb(0x8d867a), rgb(0x8a8377)}
	Accent = Ink{"accent", rgb(0x1f5f5b), rgb(0x7cc5bd)}
	Band   = Ink{"band", rgba(0x1f5f5b, 0x33), rgba(0x7cc5bd, 0x40)}
	Onset  = Ink{"onset", rgba(0x2a2722, 0x18), rgba(0xece6d9, 0x22)}
	Strong = Ink{"strong", rgb(0x2a2722), rgb(0xece6d9)}
)

func inks() []Ink { return []Ink{Paper, Text, Rule, Faint, Accent, Band, Onset, Strong} }

func rgb(hex uint32) color.NRGBA { return rgba(hex, 0xff) }

func rgba(hex uint32, a uint8) color.NRGBA {
	return color.NRGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: a}
}

// The style sheets of an SVG: one that follows the reader's preference, and one
// in black on white for paper. Elements paint with currentColor, so an ink is
// one rule.
var (
	css      = fonts + rules(func(i Ink) string { return i.class + "{" + declare(i.light) }) + "@media(prefers-color-scheme:dark){" + rules(func(i Ink) string { return i.class + "{" + declare(i.dark) }) + "}"
	paperCSS = fonts + rules(func(i Ink) string { return i.class + "{" + declare(i.printed()) })
)

const fonts = `text{font-family:Arial,"Liberation Sans",Helvetica,sans-serif}`

func rules(rule func(Ink) string) string {
	var b strings.Builder
	for _, i := range inks() {
		b.WriteString("." + rule(i) + "}")
	}
	return b.String()
}

// printed is the ink as a photocopier sees it.
func (i Ink) printed() color.NRGBA {
	switch i.class {
	case Paper.class:
		return rgb(0xffffff)
	case Faint.class:
		return rgb(0x666666)
	case Rule.class:
		return rgb(0xcccccc)
	case Band.class:
		return rgb(0xd4d4d4) // no transparency: photocopiers and archives want none
	case Onset.class:
		return rgb(0xe6e6e6)
	}
	return rgb(0)
}

func declare(c color.NRGBA) string {
	return fmt.Sprintf("color:#%02x%02x%02x%02x", c.R, c.G, c.B, c.A)
}

// Policy is the content security policy to serve an SVG with: nothing may load,
// and the two style sheets are allowed by their hashes.
var Policy = "default-src 'none'; style-src " + hashed(css) + " " + hashed(paperCSS)

func hashed(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
