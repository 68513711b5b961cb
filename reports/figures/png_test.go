package figures

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"testing"
)

// TestPNGHoldsThePixels reads what is written back with a reader that did not
// write it: random pixels, one pixel, and a part of a larger picture.
func TestPNGHoldsThePixels(t *testing.T) {
	whole := image.NewRGBA(image.Rect(0, 0, 61, 37))
	if _, err := rand.NewChaCha8([32]byte{1}).Read(whole.Pix); err != nil {
		t.Fatal(err)
	}
	for i := 3; i < len(whole.Pix); i += 4 {
		whole.Pix[i] = 0xff
	}
	part, ok := whole.SubImage(image.Rect(5, 7, 40, 20)).(*image.RGBA)
	if !ok {
		t.Fatal("a part of a picture is of another kind")
	}
	pixel := image.NewRGBA(image.Rect(0, 0, 1, 1))
	pixel.Set(0, 0, color.RGBA{R: 1, G: 2, B: 3, A: 0xff})
	for _, want := range []*image.RGBA{whole, part, pixel} {
		data, err := writePNG(want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds().Size() != want.Bounds().Size() {
			t.Fatalf("%v pixels, want %v", got.Bounds().Size(), want.Bounds().Size())
		}
		from := want.Bounds().Min
		for y := range want.Bounds().Dy() {
			for x := range want.Bounds().Dx() {
				if g, w := color.RGBAModel.Convert(got.At(x, y)), want.At(from.X+x, from.Y+y); g != w {
					t.Fatalf("pixel %d, %d is %v, want %v", x, y, g, w)
				}
			}
		}
	}
}

func TestPNGHasNoHoles(t *testing.T) {
	if _, err := writePNG(image.NewRGBA(image.Rect(0, 0, 2, 2))); err == nil {
		t.Error("a picture without paper was written")
	}
}
