package draw

import (
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// themed is gonum's raster canvas with the inks of a theme.
type themed struct {
	*vgimg.Canvas
	theme Theme
}

// SetColor takes an ink.
func (c themed) SetColor(v color.Color) {
	if i, ok := v.(ink); ok {
		v = c.theme.colour(i)
	}
	c.Canvas.SetColor(v)
}

// PNG writes the drawing as a picture, scale pixels to a point.
func (d *Drawing) PNG(w io.Writer, size Size, scale int, theme Theme) error {
	canvas := vgimg.NewWith(
		vgimg.UseWH(vg.Length(size.Width), vg.Length(size.Height)), vgimg.UseDPI(72*scale), vgimg.UseBackgroundColor(theme.colour(inkGround)),
	)
	d.render(draw.New(themed{canvas, theme}))
	_, err := vgimg.PngCanvas{Canvas: canvas}.WriteTo(w)
	return err
}
