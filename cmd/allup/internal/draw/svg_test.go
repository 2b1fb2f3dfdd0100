package draw_test

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"allup/cmd/allup/internal/draw"
)

// seen is an SVG as a reader's program takes it: texts with their boxes, and marks with theirs.
type seen struct {
	width, height float64
	texts         []textBox
	marks         []markBox
	title, desc   string
	colours       []string // anything that names a colour
}

type textBox struct {
	text           string
	x0, y0, x1, y1 float64
	class          string
}

type markBox struct {
	id, says       string
	x0, y0, x1, y1 float64 // of its last shape
	hollow         bool
	class          string
}

func (m markBox) x() float64 { return (m.x0 + m.x1) / 2 }
func (m markBox) y() float64 { return (m.y0 + m.y1) / 2 }

var figures = regexp.MustCompile(`-?(\d+(\.\d+)?|\.\d+)`)

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// look reads an SVG. It fails where that is not well-formed.
func look(t *testing.T, svg string) seen {
	t.Helper()
	var s seen
	dec := xml.NewDecoder(strings.NewReader(svg))
	var open []string // elements; a mark's is "mark"
	var text *textBox
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return s
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			at := map[string]string{}
			for _, a := range e.Attr {
				at[a.Name.Local] = a.Value
				if a.Name.Local == "fill" || a.Name.Local == "stroke" || a.Name.Local == "style" {
					s.colours = append(s.colours, a.Name.Local+"="+a.Value)
				}
			}
			name := e.Name.Local
			if name == "g" && at["role"] == "img" {
				name = "mark"
			}
			open = append(open, name)
			switch e.Name.Local {
			case "svg":
				s.width, s.height = number(t, at["width"]), number(t, at["height"])
			case "text":
				x, y, size, length := number(t, at["x"]), number(t, at["y"]), number(t, at["font-size"]), number(t, at["textLength"])
				// From the top of a capital to the foot of a letter below the line.
				b := textBox{x0: x, x1: x + length, y0: y - 0.72*size, y1: y + 0.21*size, class: at["class"]}
				if turn := at["transform"]; turn != "" {
					if !strings.HasPrefix(turn, "rotate(-90 ") {
						t.Errorf("text is turned by %s", turn)
					}
					b = textBox{x0: x - 0.72*size, x1: x + 0.21*size, y0: y - length, y1: y, class: at["class"]}
				}
				text = &b
			case "g":
				if at["data-id"] != "" && at["role"] == "img" {
					s.marks = append(s.marks, markBox{id: at["data-id"], says: at["aria-label"]})
				}
			case "path":
				if slices.Contains(open, "mark") {
					m := &s.marks[len(s.marks)-1]
					m.hollow = strings.HasPrefix(at["class"], "k ")
					m.class = at["class"]
					m.x0, m.y0, m.x1, m.y1 = extentOf(t, at["d"])
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
			if e.Name.Local == "text" {
				s.texts = append(s.texts, *text)
				text = nil
			}
		case xml.CharData:
			switch {
			case text != nil:
				text.text += string(e)
			case len(open) > 0 && open[len(open)-1] == "title" && s.title == "":
				s.title = string(e)
			case len(open) > 0 && open[len(open)-1] == "desc":
				s.desc = string(e)
			}
		}
	}
}

// places are the ends of a path's moves, lines and arcs; the arcs of these drawings end on a circle's sides.
func places(t *testing.T, d string) (line [][2]float64) {
	t.Helper()
	var x, y float64
	for _, part := range regexp.MustCompile(`[Mla][^Mlaz]*`).FindAllString(d, -1) {
		f := figures.FindAllString(part, -1)
		if part[0] == 'a' {
			f = f[len(f)-2:]
		}
		if len(f)%2 != 0 {
			t.Fatalf("path %q has an odd number of figures", part)
		}
		for i := 0; i < len(f); i += 2 {
			if part[0] == 'M' {
				x, y = number(t, f[i]), number(t, f[i+1])
			} else {
				x, y = x+number(t, f[i]), y+number(t, f[i+1])
			}
			line = append(line, [2]float64{x, y})
		}
	}
	return line
}

// extentOf is the box of a path.
func extentOf(t *testing.T, d string) (x0, y0, x1, y1 float64) {
	t.Helper()
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range places(t, d) {
		x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
	}
	return x0, y0, x1, y1
}

// wellDrawn holds what every drawing must be: well-formed, told in words, inside its frame, no text over another, and
// no colour of its own.
func wellDrawn(t *testing.T, d *draw.Drawing, width float64) seen {
	t.Helper()
	size := d.At(width)
	s := look(t, d.SVG(size, "x"))
	if s.title != d.Title || s.desc != d.Says || d.Title == "" || d.Says == "" || d.Name == "" {
		t.Errorf("title %q, description %q, name %q", s.title, s.desc, d.Name)
	}
	if s.width != width || s.width != size.Width || s.height != size.Height {
		t.Errorf("size is %v x %v, want %v", s.width, s.height, size)
	}
	if len(s.colours) > 0 {
		t.Errorf("has colours: %v", s.colours)
	}
	for i, a := range s.texts {
		if a.x0 < 0 || a.y0 < 0 || a.x1 > s.width || a.y1 > s.height {
			t.Errorf("%q at %v is outside the frame of %v", a.text, [4]float64{a.x0, a.y0, a.x1, a.y1}, size)
		}
		for _, b := range s.texts[:i] {
			if a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 {
				t.Errorf("%q covers %q", a.text, b.text)
			}
		}
	}
	for _, m := range s.marks {
		if m.says == "" {
			t.Errorf("mark %s says nothing", m.id)
		}
		if m.x0 < 0 || m.y0 < 0 || m.x1 > s.width || m.y1 > s.height {
			t.Errorf("mark %s is outside the frame", m.id)
		}
	}
	return s
}

// scaleOf is what the axes' own numbers say of places: the value at an x, and at a y. Numbers at the foot belong to x.
func (s seen) scaleOf(t *testing.T) (x, y func(float64) float64) {
	t.Helper()
	var xs, ys [][2]float64
	for _, a := range s.texts {
		v, err := strconv.ParseFloat(a.text, 64)
		if err != nil || !strings.Contains(a.class, "muted") {
			continue
		}
		if a.y0 > s.height-60 && a.x0 > 30 {
			xs = append(xs, [2]float64{(a.x0 + a.x1) / 2, v})
		} else {
			// Numbers of the vertical axis are centred on their ticks.
			ys = append(ys, [2]float64{(a.y0 + a.y1) / 2, v})
		}
	}
	if len(xs) < 2 || len(ys) < 2 {
		t.Fatalf("axes have %d and %d numbers", len(xs), len(ys))
	}
	between := func(p [][2]float64) func(float64) float64 {
		a, b := p[0], p[len(p)-1]
		return func(at float64) float64 { return a[1] + (at-a[0])/(b[0]-a[0])*(b[1]-a[1]) }
	}
	return between(xs), between(ys)
}
