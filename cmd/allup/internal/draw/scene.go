package draw

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// scene is what one panel shows, in the units of its axes.
type scene struct {
	x, y   axis
	areas  []area
	rules  []rule
	curves []curve
	points []point
	spans  []span

	note               string // behind the label of the horizontal axis, but in characters
	frontSays, fewSays string // what a full sign and a hollow one mean, in characters
}

// axis is a scale with its words.
type axis struct {
	label    string
	min, max float64
	names    []string // in place of numbers: at 0, 1, ...
	hidden   bool     // no line, ticks or label
	bare     bool     // no label and no numbers, where a panel below has them
	percent  bool     // numbers are shares
	log      bool     // equal steps are equal ratios; ticks are ratios, too
}

// area is a ground between two values of an axis.
type area struct {
	from, to   float64
	horizontal bool // between two values of y
	ink        ink
}

// rule is a straight line across the panel.
type rule struct {
	at         float64
	horizontal bool
	ink        ink
	dash       int
	label      string
}

type xy struct{ x, y float64 }

// curve is a line through points.
type curve struct {
	id, says string // "" for one that belongs to no subject
	line     []xy
	ink      ink
	dash     int
	width    vg.Length
	label    string // at its end, in its ink
	least    bool   // the label may be left out
	along    bool   // the label may stand anywhere along the line
}

// point is a mark of a subject.
type point struct {
	id, says string
	at       xy
	ink      ink
	hollow   bool
	ringed   bool // on a pale disc, with others that belong together
	diamond  bool
	radius   vg.Length
	cross    *[4]float64 // x from and to, y from and to
	label    string
	bold     bool
	least    bool // the label may be left out
}

// span is a bar from one value of x to another, or a line with ends where thin.
type span struct {
	from, to xy
	ink      ink
	width    vg.Length
	ends     bool
}

// plot makes gonum's plot of the scene for a panel of a size.
func (s scene) plot(width, height vg.Length) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil // the page's
	s.x.label += s.note
	s.x.set(&p.X, width/85)
	s.y.set(&p.Y, height/48)
	p.X.Label.TextStyle.YAlign = draw.YBottom
	if s.x.hidden {
		p.HideX()
	}
	if s.y.hidden {
		p.HideY()
	}
	p.Add(s)
	return p
}

// set makes gonum's axis of it, with about as many ticks as there is room for.
func (a axis) set(to *plot.Axis, room vg.Length) {
	ticks := max(3, int(math.Round(float64(room))))
	to.Min, to.Max = a.min, a.max
	to.Padding = 0
	to.LineStyle = draw.LineStyle{Color: inkAxis, Width: 0.8}
	to.Tick.LineStyle = draw.LineStyle{Color: inkAxis, Width: 0.8}
	to.Tick.Length = 4
	label := to.Label.TextStyle // turned and aligned as the axis wants it
	label.Color, label.Font, label.Handler = inkMuted, style(labelSize, false, inkMuted).Font, plot.DefaultTextHandler
	to.Label.TextStyle = label
	to.Label.Padding = 3
	numbers := to.Tick.Label
	numbers.Color, numbers.Font, numbers.Handler = inkMuted, style(tickSize, false, inkMuted).Font, plot.DefaultTextHandler
	to.Tick.Label = numbers
	to.Label.Text = a.label
	switch {
	case a.log:
		to.Scale = plot.LogScale{}
		to.Tick.Marker = plot.TickerFunc(func(from, to float64) []plot.Tick { return ratioTicks(from, to, ticks) })
	case a.names != nil:
		list := make([]plot.Tick, len(a.names))
		for i, n := range a.names {
			list[i] = plot.Tick{Value: float64(i), Label: n}
		}
		to.Tick.Marker = plot.ConstantTicks(list)
		to.Tick.LineStyle.Width = 0
	default:
		to.Tick.Marker = plot.TickerFunc(func(from, to float64) []plot.Tick { return evenTicks(from, to, ticks, a.percent) })
	}
	if a.bare {
		to.Label.Text = ""
		numbered := to.Tick.Marker
		to.Tick.Marker = plot.TickerFunc(func(from, to float64) []plot.Tick {
			list := numbered.Ticks(from, to)
			for i := range list {
				list[i].Label = ""
			}
			return list
		})
	}
}

// evenTicks are about as many ticks as asked for, at 1, 2 or 5 times a power of ten: gonum's own are as few as two on
// the small panels of a phone.
func evenTicks(from, to float64, count int, percent bool) []plot.Tick {
	if !(to > from) {
		return nil
	}
	rough := (to - from) / float64(count)
	step := math.Pow(10, math.Floor(math.Log10(rough)))
	switch r := rough / step; { // the nearest as a ratio: between 1 and 2, 2 and 5, 5 and 10
	case r > math.Sqrt(50):
		step *= 10
	case r > math.Sqrt(10):
		step *= 5
	case r > math.Sqrt(2):
		step *= 2
	}
	digits := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	var list []plot.Tick
	for k := math.Ceil(from/step - 1e-9); k*step <= to+1e-9*step; k++ {
		v := k*step + 0 // no zero with a sign
		text := strconv.FormatFloat(v, 'f', digits, 64)
		if percent {
			text = strconv.FormatFloat(100*v, 'f', max(0, digits-2), 64)
		}
		list = append(list, plot.Tick{Value: v, Label: text})
	}
	return list
}

// ratioTicks are round ratios about 1.
func ratioTicks(from, to float64, count int) []plot.Tick {
	var list []plot.Tick
	for _, set := range [][]float64{
		{0.1, 0.2, 0.5, 1, 2, 5, 10},
		{0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4},
		{0.2, 0.4, 0.6, 0.8, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5},
		{0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 3, 4},
		{0.9, 0.92, 0.94, 0.96, 0.98, 1, 1.02, 1.04, 1.06, 1.08, 1.1},
	} {
		var next []plot.Tick
		for _, v := range set {
			if v >= from && v <= to {
				next = append(next, plot.Tick{Value: v, Label: strconv.FormatFloat(v, 'f', -1, 64)})
			}
		}
		if len(next) <= count+1 && len(next) >= len(list) && apart(next, math.Log(to/from)/(2.2*float64(count))) {
			list = next
		}
	}
	return list
}

// apart reports whether ratios are apart by a step of their logarithm at least.
func apart(list []plot.Tick, step float64) bool {
	for i := range max(len(list)-1, 0) {
		if math.Log(list[i+1].Value/list[i].Value) < step {
			return false
		}
	}
	return true
}

// grouping is a canvas that knows what belongs together; others draw the same without it.
type grouping interface {
	begin(id, says string)
	end()
	hide()
}

func group(c draw.Canvas, id, says string, what func()) {
	if g, ok := under(c).(grouping); ok && id != "" {
		g.begin(id, says)
		defer g.end()
	}
	what()
}

// under is the canvas below those that gonum wraps around it to crop.
func under(c draw.Canvas) vg.Canvas {
	v := c.Canvas
	for {
		inner, ok := v.(draw.Canvas)
		if !ok {
			return v
		}
		v = inner.Canvas
	}
}

// Plot draws the scene for gonum's plot.
func (s scene) Plot(c draw.Canvas, p *plot.Plot) {
	fx, fy := p.Transforms(&c)
	to := func(at xy) vg.Point { return vg.Point{X: fx(at.x), Y: fy(at.y)} }
	s.ground(c, p, fx, fy)
	l := layout{frame: c.Rectangle}
	for _, r := range s.rules {
		l.rule(c, r, fx, fy)
	}
	for i := range s.spans {
		s.spans[i].draw(c, to)
		l.avoid(0, []vg.Point{to(s.spans[i].from), to(s.spans[i].to)})
	}
	for i := range s.curves {
		k := &s.curves[i]
		owner := i + 1
		var drawn []vg.Point
		group(c, k.id, k.says, func() {
			style := draw.LineStyle{Color: k.ink, Width: k.width, Dashes: lengths(dashes(k.dash))}
			line := make([]vg.Point, 0, len(k.line))
			for _, at := range k.line {
				line = append(line, to(at))
			}
			for _, part := range c.ClipLinesXY(thinned(line, finest(c))) {
				c.StrokeLines(style, part)
				l.avoid(owner, part)
				drawn = append(drawn, part...)
			}
		})
		if k.label != "" && len(drawn) > 0 {
			r := request{id: k.id, text: k.label, owner: owner, at: drawn[len(drawn)-1], ink: k.ink.forText(), clear: 3 + k.width/2, least: k.least, bold: !k.least}
			if k.along {
				r.others = inside(drawn)
			}
			l.ask(r)
		}
	}
	for _, k := range s.points {
		if at := to(k.at); k.ringed && c.Contains(at) {
			c.SetColor(inkGroup)
			c.Fill(circle(at, k.radius+5))
		}
	}
	for i := range s.points {
		s.points[i].draw(c, to, &l)
	}
	for _, label := range l.place() {
		group(c, label.id, "", func() { label.draw(c) })
	}
}

// finest is the distance, in points, that a curve's own points may be from what is drawn: less than a pixel, of which a
// picture has three to a point at most.
func finest(c draw.Canvas) vg.Length {
	if _, ok := under(c).(*svgCanvas); ok {
		return 0.6
	}
	return 0.3
}

// inside are places along a line, from its end back, that a label may stand beside.
func inside(line []vg.Point) []vg.Point {
	points := along(nil, line)
	const places = 12
	var list []vg.Point
	for k := 1; k < places; k++ {
		list = append(list, points[(len(points)-1)*(places-k)/places])
	}
	return list
}

func lengths(v []float64) []vg.Length {
	out := make([]vg.Length, len(v))
	for i := range v {
		out[i] = vg.Length(v[i])
	}
	return out
}

// ground draws grid and areas.
func (s scene) ground(c draw.Canvas, p *plot.Plot, fx, fy func(float64) vg.Length) {
	for _, a := range s.areas {
		r := c.Rectangle
		if a.horizontal {
			r.Min.Y, r.Max.Y = max(r.Min.Y, fy(a.from)), min(r.Max.Y, fy(a.to))
		} else {
			r.Min.X, r.Max.X = max(r.Min.X, fx(a.from)), min(r.Max.X, fx(a.to))
		}
		if r.Max.X > r.Min.X && r.Max.Y > r.Min.Y {
			c.SetColor(a.ink)
			c.Fill(r.Path())
		}
	}
	grid := draw.LineStyle{Color: inkGrid, Width: 0.8}
	if !s.y.hidden {
		for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
			if y := fy(t.Value); y > c.Min.Y+1 && y <= c.Max.Y+0.1 {
				c.StrokeLine2(grid, c.Min.X, y, c.Max.X, y)
			}
		}
	}
	if !s.x.hidden {
		for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
			if x := fx(t.Value); x > c.Min.X+1 && x <= c.Max.X+0.1 {
				c.StrokeLine2(grid, x, c.Min.Y, x, c.Max.Y)
			}
		}
	}
}

func (s *span) draw(c draw.Canvas, to func(xy) vg.Point) {
	a, b := to(s.from), to(s.to)
	style := draw.LineStyle{Color: s.ink, Width: s.width}
	c.StrokeLine2(style, a.X, a.Y, b.X, b.Y)
	if !s.ends {
		return
	}
	const half = 4
	for _, at := range []vg.Point{a, b} {
		if a.Y == b.Y {
			c.StrokeLine2(style, at.X, at.Y-half, at.X, at.Y+half)
		} else {
			c.StrokeLine2(style, at.X-half, at.Y, at.X+half, at.Y)
		}
	}
}

func (k *point) draw(c draw.Canvas, to func(xy) vg.Point, l *layout) {
	at := to(k.at)
	if at.X < c.Min.X-0.5 || at.X > c.Max.X+0.5 || at.Y < c.Min.Y-0.5 || at.Y > c.Max.Y+0.5 {
		return
	}
	group(c, k.id, k.says, func() {
		if k.cross != nil {
			thin := draw.LineStyle{Color: inkBand, Width: 0.8}
			a, b := to(xy{k.cross[0], k.at.y}), to(xy{k.cross[1], k.at.y})
			low, high := to(xy{k.at.x, k.cross[2]}), to(xy{k.at.x, k.cross[3]})
			for _, part := range c.ClipLinesXY([]vg.Point{a, b}, []vg.Point{low, high}) {
				c.StrokeLines(thin, part)
				l.faint = along(l.faint, part)
			}
		}
		shape := circle(at, k.radius)
		if k.diamond {
			shape = diamond(at, k.radius*1.25)
		}
		if k.hollow {
			c.SetColor(inkGround)
			c.Fill(shape)
			c.SetLineStyle(draw.LineStyle{Color: k.ink, Width: 1.5})
			c.Stroke(shape)
			return
		}
		c.SetColor(k.ink)
		c.Fill(shape)
	})
	l.points = append(l.points, box{at.X - k.radius, at.Y - k.radius, at.X + k.radius, at.Y + k.radius})
	if k.label != "" {
		l.ask(request{id: k.id, text: k.label, at: at, ink: k.ink.forText(), clear: k.radius + 2, least: k.least, bold: k.bold})
	}
}

func circle(at vg.Point, r vg.Length) vg.Path {
	var p vg.Path
	p.Move(at.Add(vg.Point{X: r}))
	p.Arc(at, r, 0, 2*math.Pi)
	p.Close()
	return p
}

func diamond(at vg.Point, r vg.Length) vg.Path {
	var p vg.Path
	p.Move(at.Add(vg.Point{X: r}))
	p.Line(at.Add(vg.Point{Y: r}))
	p.Line(at.Sub(vg.Point{X: r}))
	p.Line(at.Sub(vg.Point{Y: r}))
	p.Close()
	return p
}
