package pushtest

import (
	"crypto/ecdh"
	"encoding/base64"
	"testing"
)

func unbase(t *testing.T, text string) []byte {
	t.Helper()
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The browser of these tests opens the message of RFC 8291, section 5, with the
// keys given there: what it opens, every browser does.
func TestBrowser_Open_ExampleOfRFC8291(t *testing.T) {
	key, err := ecdh.P256().NewPrivateKey(unbase(t, "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"))
	if err != nil {
		t.Fatal(err)
	}
	b := Browser{key, unbase(t, "BTBZMqHH6r4Tts7J_aSIgg")}
	got, err := b.Open(unbase(t, "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"))
	if err != nil || got != "When I grow up, I want to be a watermelon" {
		t.Errorf("%q, %v", got, err)
	}
}
