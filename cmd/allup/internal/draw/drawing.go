// Package draw makes pictures of answers: a function for each picture, from the planner's answers to a [Drawing], which
// is written as SVG for a page or a file and as PNG. Scales, axes and ticks are those of gonum's plot; what this
// package adds is a canvas on which text stays text and colours are classes, labels that keep out of each other's way,
// and the title, which states the finding.
//
// Nothing is worked out here but places on paper.
package draw

import (
	"fmt"
	"strings"

	"golang.org/x/image/font"
	"gonum.org/v1/plot"
	plotfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"allup/model/words"
)

// Size is that of a drawing in points; one is a px on a page.
type Size struct{ Width, Height float64 }

// Drawing is a picture of an answer.
type Drawing struct {
	Name  string // of a file, without its ending: what it shows and of what, made from ids
	Title string // the finding
	Says  string // what the picture shows, for those who listen to it

	wide, tall float64 // height over width where it is wide, and on a phone
	panels     []panel
}

// panel is a part of a drawing, above or below others that share its horizontal axis.
type panel struct {
	share float64 // of the height
	on    func(narrow bool) sight
}

// sight is what a panel shows.
type sight interface {
	// plot makes gonum's plot of it for a panel of a size.
	plot(width, height vg.Length) *plot.Plot
}

// phone is the width up to which a drawing is laid out for a phone.
const phone = 480

// At is the size of the drawing at a width.
func (d *Drawing) At(width float64) Size {
	part := d.wide
	if width <= phone {
		part = d.tall
	}
	return Size{width, float64(int(width * part))}
}

// SVG is the drawing for a page, which brings the style sheet: [Rules] and [Variables]. id must be
// another for each drawing of the page.
func (d *Drawing) SVG(size Size, id string) string { return d.svg(size, id, "") }

// File is the drawing as an SVG file of its own.
func (d *Drawing) File(size Size) string {
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + d.svg(size, "drawing", "<style>"+standalone()+"</style>") + "\n"
}

func (d *Drawing) svg(size Size, id, style string) string {
	c := newSVG(vg.Length(size.Width), vg.Length(size.Height))
	d.render(draw.New(c))
	role := "img"
	if strings.Contains(c.body.String(), `role="img"`) {
		role = "group" // marks of its own are to be heard
	}
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="0 0 %s %s" width="%s" height="%s" role="%s" aria-labelledby="%s-title %s-desc">`+
		`<title id="%s-title">%s</title><desc id="%s-desc">%s</desc>%s%s</svg>`,
		num(size.Width), num(size.Height), num(size.Width), num(size.Height), role, id, id, id, escaped(d.Title), id, escaped(d.Says), style, c.body.String())
}

// Type sizes in points.
const (
	titleSize = 15
	labelSize = 12
	tickSize  = 11.5
)

const margin = 8

func style(size vg.Length, bold bool, colour ink) text.Style {
	f := plotfont.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		f.Weight = font.WeightBold
	}
	return text.Style{Color: colour, Font: f, Handler: plot.DefaultTextHandler, YAlign: text.YBottom}
}

// render lays the drawing out and draws it.
func (d *Drawing) render(c draw.Canvas) {
	hidden, onSVG := c.Canvas.(*svgCanvas)
	narrow := c.Max.X-c.Min.X <= phone
	c = draw.Crop(c, margin, -margin, margin, -margin)
	heading := style(titleSize, true, inkText)
	lines := wrapped(d.Title, heading, c.Max.X-c.Min.X)
	if onSVG {
		hidden.hide() // the title is there for those who listen, and ticks say nothing without sight
	}
	for _, line := range lines {
		c.Max.Y -= titleSize * 1.3
		c.FillText(heading, vg.Point{X: c.Min.X, Y: c.Max.Y + titleSize*0.25}, line)
	}
	if onSVG {
		hidden.end()
	}
	c.Max.Y -= 6
	plots := make([]*plot.Plot, len(d.panels))
	tiles := make([]draw.Canvas, len(d.panels))
	height := c.Max.Y - c.Min.Y
	top := c.Max.Y
	var left, right vg.Length
	for i, p := range d.panels {
		plots[i] = p.on(narrow).plot(c.Max.X-c.Min.X, height*vg.Length(p.share))
		tiles[i] = c
		tiles[i].Max.Y = top
		tiles[i].Min.Y = top - height*vg.Length(p.share)
		top = tiles[i].Min.Y
		inner := plots[i].DataCanvas(tiles[i])
		left, right = max(left, inner.Min.X-c.Min.X), max(right, c.Max.X-inner.Max.X)
	}
	for i := range plots {
		// Panels have one horizontal axis: the widest margins are those of all.
		inner := plots[i].DataCanvas(tiles[i])
		tiles[i] = draw.Crop(tiles[i], left-(inner.Min.X-c.Min.X), -(right - (c.Max.X - inner.Max.X)), 0, 0)
		plots[i].Draw(tiles[i])
	}
}

// Unbroken is the words of a text, no figure parted from its unit.
func Unbroken(s string) []string { return words.Unbroken(s, "\u00a0") }

// wrapped folds text into lines of at most a width.
func wrapped(s string, in text.Style, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range Unbroken(s) {
		next := strings.TrimPrefix(line+" "+word, " ")
		if line != "" && in.Width(next) > width {
			lines = append(lines, line)
			next = word
		}
		line = next
	}
	return append(lines, line)
}
