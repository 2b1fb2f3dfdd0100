package draw

import (
	"bytes"
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	plotfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"allup/model/words"
)

// svgCanvas writes what gonum's plot draws as SVG in which text is text and colours are classes. One point of the
// drawing is one px. It keeps its own transformation, so that every figure in the file is a place on the drawing.
type svgCanvas struct {
	body   bytes.Buffer
	w, h   vg.Length
	states []svgState
	rim    bool // text has a rim of the ground's colour
}

type svgState struct {
	ink    ink
	width  vg.Length
	dashes []vg.Length
	// x' = a x + c y + e, y' = b x + d y + f, with y upwards
	a, b, c, d, e, f float64
}

func newSVG(w, h vg.Length) *svgCanvas {
	return &svgCanvas{w: w, h: h, states: []svgState{{ink: inkText, width: 1, a: 1, d: 1}}}
}

func (c *svgCanvas) top() *svgState { return &c.states[len(c.states)-1] }

// Size is the drawing's, in points.
func (c *svgCanvas) Size() (w, h vg.Length) { return c.w, c.h }

// SetLineWidth, SetLineDash and SetColor are those of [vg.Canvas].
func (c *svgCanvas) SetLineWidth(w vg.Length) { c.top().width = w }

// SetLineDash sets the dashes; an offset is not used by these drawings.
func (c *svgCanvas) SetLineDash(pattern []vg.Length, _ vg.Length) { c.top().dashes = pattern }

// SetColor takes an ink; another colour stands for text.
func (c *svgCanvas) SetColor(v color.Color) {
	c.top().ink = inkText
	if i, ok := v.(ink); ok {
		c.top().ink = i
	}
}

// Rotate turns what follows by an angle in radians, counterclockwise.
func (c *svgCanvas) Rotate(angle float64) {
	sin, cos := math.Sincos(angle)
	s := c.top()
	s.a, s.b, s.c, s.d = s.a*cos+s.c*sin, s.b*cos+s.d*sin, s.c*cos-s.a*sin, s.d*cos-s.b*sin
}

// Translate moves what follows.
func (c *svgCanvas) Translate(p vg.Point) {
	s := c.top()
	x, y := float64(p.X), float64(p.Y)
	s.e, s.f = s.e+s.a*x+s.c*y, s.f+s.b*x+s.d*y
}

// Scale stretches what follows.
func (c *svgCanvas) Scale(x, y float64) {
	s := c.top()
	s.a, s.b, s.c, s.d = s.a*x, s.b*x, s.c*y, s.d*y
}

// Push keeps the state, Pop brings it back.
func (c *svgCanvas) Push() { c.states = append(c.states, *c.top()) }

// Pop brings the state of the last Push back.
func (c *svgCanvas) Pop() { c.states = c.states[:len(c.states)-1] }

// place is a point of the drawing, with y downwards.
func (c *svgCanvas) place(p vg.Point) (x, y float64) {
	s := c.top()
	px, py := float64(p.X), float64(p.Y)
	return s.a*px + s.c*py + s.e, float64(c.h) - (s.b*px + s.d*py + s.f)
}

// num is a length with at most two digits after the point.
func num(v float64) string {
	v = math.Round(v*100) / 100
	if v == 0 {
		v = 0 // without a sign
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// pen writes path data, in tenths of a point, each place as its distance from the one before: a curve of a log is
// hundreds of places. Distances are between rounded places, so that errors do not add up.
type pen struct {
	b    strings.Builder
	x, y int // where it is
	last byte
}

// to writes a command, in small letters, that ends at a place.
func (p *pen) to(command string, x, y float64) {
	nx, ny := int(math.Round(10*x)), int(math.Round(10*y))
	if command == "l" && nx == p.x && ny == p.y {
		return // nowhere to be seen
	}
	if command == "m" {
		p.b.WriteString("M" + tenths(nx) + separated(tenths(ny)))
	} else {
		if command == "l" && p.last == 'l' {
			command = "" // goes on by itself
		}
		dx := tenths(nx - p.x)
		if command == "" || command[len(command)-1] == ' ' {
			dx = separated(dx)
		}
		p.b.WriteString(command + dx + separated(tenths(ny-p.y)))
	}
	p.x, p.y = nx, ny
	if command != "" {
		p.last = command[0]
	}
}

// separated is a number that follows another: a sign parts them, otherwise a blank.
func separated(n string) string {
	if n[0] == '-' {
		return n
	}
	return " " + n
}

// tenths is a number of tenths, "-1.5", "2", ".3".
func tenths(n int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	whole, part := strconv.Itoa(n/10), n%10
	if part == 0 {
		return sign + whole
	}
	if whole == "0" {
		whole = ""
	}
	return sign + whole + "." + strconv.Itoa(part)
}

func (c *svgCanvas) data(path vg.Path) string {
	var p pen
	put := func(command string, at vg.Point) {
		x, y := c.place(at)
		p.to(command, x, y)
	}
	begun := false
	for _, s := range path {
		switch s.Type {
		case vg.MoveComp:
			put("m", s.Pos)
			begun = true
		case vg.LineComp:
			put("l", s.Pos)
		case vg.ArcComp:
			at := func(angle float64) vg.Point {
				sin, cos := math.Sincos(angle)
				return s.Pos.Add(vg.Point{X: s.Radius * vg.Length(cos), Y: s.Radius * vg.Length(sin)})
			}
			command := "l"
			if !begun {
				command, begun = "m", true
			}
			put(command, at(s.Start))
			// An arc may not end where it begins, so that a circle takes two.
			sweep := "0"
			if s.Angle < 0 {
				sweep = "1"
			}
			for half := range 2 {
				put(fmt.Sprintf("a%s %s 0 0 %s ", num(float64(s.Radius)), num(float64(s.Radius)), sweep), at(s.Start+s.Angle*float64(half+1)/2))
			}
		case vg.CloseComp:
			p.b.WriteString("z")
			p.last = 'z'
		case vg.CurveComp:
			panic("draw: these drawings have no curves but circles")
		}
	}
	return p.b.String()
}

// Stroke draws a line along a path.
func (c *svgCanvas) Stroke(p vg.Path) {
	s := c.top()
	if s.width <= 0 || len(p) == 0 {
		return
	}
	fmt.Fprintf(&c.body, `<path class="k %s" stroke-width="%s"`, s.ink.class(), num(float64(s.width)))
	if len(s.dashes) > 0 {
		var list []string
		for _, d := range s.dashes {
			list = append(list, num(float64(d)))
		}
		fmt.Fprintf(&c.body, ` stroke-dasharray="%s"`, strings.Join(list, " "))
	}
	fmt.Fprintf(&c.body, ` d="%s"/>`, c.data(p))
}

// Fill fills a path.
func (c *svgCanvas) Fill(p vg.Path) {
	fmt.Fprintf(&c.body, `<path class="f %s" d="%s"/>`, c.top().ink.class(), c.data(p))
}

// FillString writes text. It is given the width that it was measured with, so that it keeps to its place in whatever
// font a reader has.
func (c *svgCanvas) FillString(f plotfont.Face, at vg.Point, text string) {
	if f.Font.Size <= 0 || text == "" {
		return
	}
	x, y := c.place(at)
	s := c.top()
	class := s.ink.class()
	if f.Font.Weight >= font.WeightBold {
		class += " b"
	}
	if c.rim {
		class += " r"
	}
	fmt.Fprintf(&c.body, `<text class="%s" x="%s" y="%s" font-size="%s" textLength="%s" lengthAdjust="spacingAndGlyphs"`,
		class, num(x), num(y), num(float64(f.Font.Size)), num(float64(f.Width(text))))
	if turn := -math.Atan2(s.b, s.a) * 180 / math.Pi; math.Abs(turn) > 1e-9 {
		fmt.Fprintf(&c.body, ` transform="rotate(%s %s %s)"`, num(turn), num(x), num(y))
	}
	fmt.Fprintf(&c.body, ">%s</text>", escaped(text))
}

// DrawImage is not used by these drawings.
func (c *svgCanvas) DrawImage(vg.Rectangle, image.Image) {}

// begin opens what belongs to one subject; says is what it is, for those who listen, and "" for what only repeats it.
func (c *svgCanvas) begin(id, says string) {
	fmt.Fprintf(&c.body, `<g class="mark" data-id="%s"`, escaped(id))
	if says == "" {
		c.body.WriteString(` aria-hidden="true">`)
		return
	}
	fmt.Fprintf(&c.body, ` role="img" aria-label="%s" tabindex="-1"><title>%s</title>`, escaped(says), escaped(says))
}

func (c *svgCanvas) end() { c.body.WriteString("</g>") }

// hide marks what those who listen need not hear, such as ticks.
func (c *svgCanvas) hide() { c.body.WriteString(`<g aria-hidden="true">`) }

// escaped is text for SVG and HTML: no mark-up, and no characters that XML does not have or that steer.
func escaped(s string) string { return html.EscapeString(words.Clean(s)) }
