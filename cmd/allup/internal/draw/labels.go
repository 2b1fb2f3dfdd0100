package draw

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// box is where something is on the drawing.
type box struct{ x0, y0, x1, y1 vg.Length }

func (b box) meets(o box) bool { return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 }

func (b box) in(r vg.Rectangle) bool {
	return b.x0 >= r.Min.X && b.x1 <= r.Max.X && b.y0 >= r.Min.Y && b.y1 <= r.Max.Y
}

// request is a label that looks for its place beside a point.
type request struct {
	id, text string
	owner    int // the curve that it belongs to, counted from 1; 0 for a point's
	at       vg.Point
	others   []vg.Point // places that do as well, near ones first
	ink      ink
	bold     bool
	clear    vg.Length // of the point
	least    bool      // may be left out
}

// placed is a label in its place.
type placed struct {
	request
	box  box
	lead bool // far enough from its point to need a line to it
	over bool // something is drawn below it
}

// layout places labels so that none covers another or a point, and few cover a curve.
type layout struct {
	frame  vg.Rectangle
	points []box
	lines  []inked    // along the curves, every few points
	faint  []vg.Point // along the bands
	rules  []ruled
	asked  []request
	done   []placed
}

// inked is a place on a line that is drawn.
type inked struct {
	vg.Point
	owner int // the curve, counted from 1; 0 for other lines
}

func (l *layout) ask(r request) { l.asked = append(l.asked, r) }

// avoid notes a line that labels should keep off.
func (l *layout) avoid(owner int, line []vg.Point) {
	for _, p := range along(nil, line) {
		l.lines = append(l.lines, inked{p, owner})
	}
}

// along adds points along a line, every few points of the drawing.
func along(to, line []vg.Point) []vg.Point {
	const every = 5
	for i := range line[:len(line)-1] {
		a, b := line[i], line[i+1]
		n := int(math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))/every) + 1
		for k := range n {
			to = append(to, a.Add(b.Sub(a).Scale(vg.Length(k)/vg.Length(n))))
		}
	}
	return append(to, line[len(line)-1])
}

const lineHeight = labelSize * 1.1

// place finds a place for every label that must have one, then for those that may have. The first asked choose first.
func (l *layout) place() []placed {
	for _, r := range l.rules {
		l.along(r)
	}
	for _, least := range []bool{false, true} {
		for _, r := range l.asked {
			if r.least == least {
				l.one(r)
			}
		}
	}
	for i := range l.done {
		p := &l.done[i]
		for _, at := range l.lines {
			p.over = p.over || p.box.grown(2).has(at.Point)
		}
		p.over = p.over || p.box.covered(l.faint) > 0
	}
	return l.done
}

// one tries places from near to far and takes the one that covers the least.
func (l *layout) one(r request) {
	width := style(labelSize, r.bold, r.ink).Width(r.text)
	var best placed
	least := math.Inf(1)
	own := 0 // a label at the end of its curve is told from others by that end
	if len(r.others) > 0 {
		own = r.owner
	}
	try := func(at vg.Point, ring int, away vg.Length, extra float64) {
		for turn := range 16 {
			sin, cos := math.Sincos(float64(turn) * math.Pi / 8)
			reach := r.clear + away
			// The label's own middle, so that its nearest edge is at the reach.
			x := at.X + vg.Length(cos)*(reach+width/2)
			y := at.Y + vg.Length(sin)*(reach+lineHeight/2)
			p := placed{request: r, box: box{x - width/2, y - lineHeight/2, x + width/2, y + lineHeight/2}, lead: ring > 1}
			p.at = at
			cost := l.cost(p.box, own) + float64(away)*0.35 + turnCost(turn) + extra
			if cost < least && p.lead {
				cost += l.crossed(p)
			}
			if cost < least {
				least, best = cost, p
			}
		}
	}
	rings := []vg.Length{0, 6, 14, 24, 36, 50, 68, 90}
	near := rings[:2]
	if r.least {
		rings = near
	}
	for i, at := range r.others {
		for ring, away := range near {
			try(at, ring, away, 4+0.5*float64(i))
		}
	}
	for ring, away := range rings {
		try(r.at, ring, away, 0)
		if least < float64(away)*0.35+8 {
			break // nothing farther off can be better by much
		}
	}
	if least >= forbidden {
		return
	}
	l.done = append(l.done, best)
	if best.lead {
		from, to := best.leader()
		l.avoid(0, []vg.Point{from, to})
	}
}

// crossed is what it costs that a label's line to its point runs through other labels, points or curves.
func (l *layout) crossed(p placed) (cost float64) {
	from, to := p.leader()
	path := along(nil, []vg.Point{from, to})
	for i := range l.done {
		cost += 40 * float64(l.done[i].box.covered(path))
	}
	for _, b := range l.points {
		cost += 4 * float64(b.covered(path))
	}
	const near = 3.6
	for _, at := range l.lines {
		if at.owner == p.owner && p.owner > 0 {
			continue
		}
		for _, q := range path {
			if math.Abs(float64(q.X-at.X)) < near && math.Abs(float64(q.Y-at.Y)) < near {
				cost += 4
			}
		}
	}
	return cost
}

// turnCost prefers the right, a little upwards where a band runs off there, then above and below, then the left.
func turnCost(turn int) float64 {
	return []float64{0, 0.5, 1, 1.5, 2, 3, 3.5, 4, 4.5, 4, 3.5, 3, 2.5, 2, 1.5, 1}[turn]
}

const forbidden = 1e6

// cost is what a label in a box covers; owner is the curve whose label it is, which no other shall be nearer to.
func (l *layout) cost(b box, owner int) float64 {
	if !b.in(l.frame) {
		return forbidden
	}
	wide := box{b.x0 - 1.5, b.y0 - 0.5, b.x1 + 1.5, b.y1 + 0.5}
	for i := range l.done {
		if wide.meets(l.done[i].box) {
			return forbidden
		}
	}
	for _, p := range l.points {
		if b.meets(p) {
			return forbidden
		}
	}
	const line, band, beside = 9, 0.8, 2.5
	cost := band * float64(b.covered(l.faint))
	inner, outer := box{b.x0, b.y0 + 1, b.x1, b.y1 - 1}, b.grown(6)
	for _, at := range l.lines {
		switch {
		case inner.has(at.Point):
			cost += line
		case owner > 0 && at.owner > 0 && at.owner != owner && outer.has(at.Point):
			cost += beside
		}
	}
	return cost
}

// grown is the box with more room on all sides.
func (b box) grown(by vg.Length) box { return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by} }

func (b box) has(p vg.Point) bool { return p.X > b.x0 && p.X < b.x1 && p.Y > b.y0 && p.Y < b.y1 }

// covered counts the points that a text in the box would cover.
func (b box) covered(points []vg.Point) (n int) {
	for _, p := range points {
		if p.X > b.x0 && p.X < b.x1 && p.Y > b.y0+1 && p.Y < b.y1-1 {
			n++
		}
	}
	return n
}

// ruled is a rule's label with the places that it may have along its line.
type ruled struct {
	text  string
	ink   ink
	boxes []box
}

// along puts the label of a rule where it covers least; it goes before the labels of points.
func (l *layout) along(r ruled) {
	least, at := math.Inf(1), box{}
	for i, b := range r.boxes {
		if cost := l.cost(b, 0) + 0.5*float64(i); cost < least {
			least, at = cost, b
		}
	}
	if least < forbidden {
		l.done = append(l.done, placed{request: request{text: r.text, ink: r.ink}, box: at})
	}
}

// rule draws a line across the panel and asks for the place of its label beside it.
func (l *layout) rule(c draw.Canvas, r rule, fx, fy func(float64) vg.Length) {
	line := draw.LineStyle{Color: r.ink, Width: 1.4, Dashes: lengths(dashes(r.dash))}
	width := style(labelSize, false, r.ink).Width(r.label)
	ask := ruled{text: r.label, ink: r.ink}
	from, to := vg.Point{X: c.Min.X, Y: c.Min.Y}, vg.Point{X: c.Max.X, Y: c.Max.Y}
	const places = 8
	if r.horizontal {
		y := fy(r.at)
		from.Y, to.Y = y, y
		for k := range places {
			x := c.Min.X + 4 + (c.Max.X-c.Min.X-width-8)*vg.Length(k)/(places-1)
			for _, low := range []vg.Length{y + 2, y - 2 - lineHeight} {
				ask.boxes = append(ask.boxes, box{x, low, x + width, low + lineHeight})
			}
		}
	} else {
		x := fx(r.at)
		from.X, to.X = x, x
		for k := range places {
			low := c.Max.Y - lineHeight - 2 - (c.Max.Y-c.Min.Y-lineHeight-4)*vg.Length(k)/(places-1)
			for _, left := range []vg.Length{x - width - 5, x + 5} {
				ask.boxes = append(ask.boxes, box{left, low, left + width, low + lineHeight})
			}
		}
	}
	if from.X < c.Min.X || from.X > c.Max.X || from.Y < c.Min.Y || from.Y > c.Max.Y {
		return
	}
	c.StrokeLine2(line, from.X, from.Y, to.X, to.Y)
	l.avoid(0, []vg.Point{from, to})
	if r.label != "" {
		l.rules = append(l.rules, ask)
	}
}

// leader is the line from a point to its label.
func (p placed) leader() (from, to vg.Point) {
	to = vg.Point{X: min(max(p.at.X, p.box.x0), p.box.x1), Y: min(max(p.at.Y, p.box.y0), p.box.y1)}
	gap := to.Sub(p.at)
	d := vg.Length(math.Hypot(float64(gap.X), float64(gap.Y)))
	if d <= p.clear {
		return to, to
	}
	return p.at.Add(gap.Scale(p.clear / d)), to
}

func (p placed) draw(c draw.Canvas) {
	if p.lead {
		from, to := p.leader()
		c.StrokeLine2(draw.LineStyle{Color: inkAxis, Width: 0.7}, from.X, from.Y, to.X, to.Y)
	}
	at := vg.Point{X: p.box.x0, Y: p.box.y0 + labelSize*0.2}
	in := style(labelSize, p.bold, p.ink)
	if p.over {
		clearing(c, in, at, p.text)
		return
	}
	c.FillText(in, at, p.text)
}

// clearing writes text on a rim of the ground's colour, so that lines below it do not run into its letters.
func clearing(c draw.Canvas, in draw.TextStyle, at vg.Point, text string) {
	if svg, ok := under(c).(*svgCanvas); ok {
		svg.rim = true
		c.FillText(in, at, text)
		svg.rim = false
		return
	}
	rim := in
	rim.Color = inkGround
	const around, width = 12, 1.6
	for k := range around {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / around)
		c.FillText(rim, at.Add(vg.Point{X: vg.Length(width * cos), Y: vg.Length(width * sin)}), text)
	}
	c.FillText(in, at, text)
}
