package home

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// Photo names a picture that goes with a home check. The picture itself is a
// [PhotoFile] of the same ID.
type Photo struct {
	ID      string // of the file
	Of      string `json:",omitempty"` // the Part, or "lump/ID"; empty for the whole cat
	Caption string `json:",omitempty"`
}

// PhotoFile is a picture as it is kept: sized down and without what cameras
// write beside it.
type PhotoFile struct {
	ID            string // PhotoID of JPEG: the same picture is kept once
	Width, Height int
	JPEG          []byte
}

// PhotoID names a picture by what is in it.
func PhotoID(jpeg []byte) string {
	sum := sha256.Sum256(jpeg)
	return hex.EncodeToString(sum[:16])
}

// MaxPhoto is how large a kept picture may be, in bytes.
const MaxPhoto = 2 << 20

// Valid returns nil if f can be stored, or what is wrong with it.
func (f PhotoFile) Valid() error {
	switch {
	case len(f.JPEG) == 0 || len(f.JPEG) > MaxPhoto:
		return fmt.Errorf("a picture of %d bytes cannot be kept: at most %d", len(f.JPEG), MaxPhoto)
	case f.ID != PhotoID(f.JPEG):
		return fmt.Errorf("a picture's id does not fit what is in it")
	case f.Width <= 0 || f.Height <= 0:
		return fmt.Errorf("a picture of %d by %d has no size", f.Width, f.Height)
	}
	return nil
}

func (p Photo) valid() error {
	if err := ValidID("picture", p.ID); err != nil {
		return err
	}
	if len(p.Of) > 100 || len(p.Caption) > 500 {
		return fmt.Errorf("keep what is said of a picture under 500 bytes")
	}
	return nil
}
