package draw

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"allup/model/words"
	"allup/planner"
)

// Mass is the mass budget of a build as one bar against the limit, with how well it is known and what is kept back.
func Mass(w planner.Weighing) *Drawing {
	b := w.Plan.Build
	bar := massBar{
		total: w.Mass.Grams(), unsure: w.Expanded.Grams(), limit: b.Limit.Mass.Grams(), kept: b.Limit.Spare.Grams(),
		limitText: limit(b.Limit.Mass),
	}
	var says []string
	at := 0.0
	for _, i := range w.Items {
		g := i.Total().Grams()
		part := massPart{from: at, to: at + g, slot: i.Slot, id: i.ID, grams: words.Fixed(g, 1) + " g", pack: i.Slot == "pack"}
		if i.Slot == "gear" || i.Slot == "extra" {
			part.slot = i.ID
		}
		if i.Count > 1 {
			part.slot = fmt.Sprintf("%d %ss", i.Count, part.slot)
			part.id = fmt.Sprintf("%d x %s", i.Count, part.id)
		}
		at += g
		bar.parts = append(bar.parts, part)
		says = append(says, fmt.Sprintf("%s %s", part.id, part.grams))
	}
	return &Drawing{
		Name: FileName("mass", b.Name), Title: massTitle(w),
		Says: fmt.Sprintf("One bar of masses from 0 to %s, known to %s at two sigma, against a limit of %s. From the left: %s.",
			words.Grams(w.Mass), words.Grams(w.Expanded), limit(b.Limit.Mass), strings.Join(says, ", ")),
		wide: 0.27 + 0.045*float64(len(bar.parts)/14), tall: 1.25,
		panels: []panel{{1, func(narrow bool) sight {
			bar := bar
			bar.upright = narrow
			return bar
		}}},
	}
}

func massTitle(w planner.Weighing) string {
	b := w.Plan.Build
	head := b.Name
	if w.Plan.Pack != nil {
		head += " with " + w.Plan.Pack.ID
	}
	head += " weighs " + words.Grams(w.Mass)
	switch {
	case w.Verdict == planner.Over && b.Limit.At(w.Mass):
		return fmt.Sprintf("%s: NOT under %s, but at it", head, limit(b.Limit.Mass))
	case w.Verdict == planner.Over:
		return fmt.Sprintf("%s: %s OVER %s", head, words.Grams(-w.Margin), limit(b.Limit.Mass))
	case w.Verdict == planner.NotSure:
		return fmt.Sprintf("%s: %s under %s, but not surely", head, words.Grams(w.Margin), limit(b.Limit.Mass))
	case w.Verdict == planner.SpareShort:
		return fmt.Sprintf("%s: %s under %s, LESS than the %s kept back", head, words.Grams(w.Margin), limit(b.Limit.Mass), words.Grams(b.Limit.Spare))
	}
	return fmt.Sprintf("%s: %s under %s", head, words.Grams(w.Margin), limit(b.Limit.Mass))
}

type massPart struct {
	from, to        float64
	slot, id, grams string
	pack            bool
}

func (p massPart) ink(i int) ink {
	switch {
	case p.pack:
		return inkPart3
	case i%2 == 1:
		return inkPart2
	}
	return inkPart
}

// massBar is a bar that lies, or stands on a phone.
type massBar struct {
	parts                      []massPart
	total, unsure, limit, kept float64
	limitText                  string
	upright                    bool
}

func (m massBar) plot(width, height vg.Length) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	a := axis{label: "mass, g", min: 0, max: 1.015 * max(m.limit, m.total+m.unsure)}
	none := axis{min: 0, max: 1}
	if m.upright {
		a.set(&p.Y, height/60)
		none.set(&p.X, 2)
		p.HideX()
	} else {
		a.set(&p.X, width/75)
		none.set(&p.Y, 2)
		p.HideY()
	}
	p.Add(m)
	return p
}

// Plot draws the bar for gonum's plot.
func (m massBar) Plot(c draw.Canvas, p *plot.Plot) {
	if m.upright {
		m.stand(c, p)
		return
	}
	fx, _ := p.Transforms(&c)
	rows := m.labels(c, fx)
	// What stands above and below the bar has its height; the bar takes what is left, up to a point.
	const below = 34
	above := 14 + vg.Length(len(rows))*(2*lineHeight+4)
	room := c.Max.Y - c.Min.Y - below - above
	thick := min(max(room, 24), 130)
	foot := c.Min.Y + max(0, (room-thick)/2)
	low := foot + below
	high := low + thick
	if m.kept > 0 {
		fill(c, inkKept, fx(m.limit-m.kept), foot, fx(m.limit), high+8)
	}
	m.lie(c, fx, low, high)
	for r, row := range rows {
		base := high + 12 + vg.Length(len(rows)-1-r)*(2*lineHeight+4)
		for _, l := range row {
			x := vg.Length(l.at)
			middle := (fx(l.part.from) + fx(l.part.to)) / 2
			c.StrokeLines(draw.LineStyle{Color: inkAxis, Width: 0.7}, []vg.Point{{X: middle, Y: high}, {X: middle, Y: high + 3}, {X: x, Y: base - 1}})
			put(c, style(tickSize, false, inkText), x, base+lineHeight, 0.5, l.part.slot)
			put(c, style(tickSize, false, inkMuted), x, base, 0.5, l.part.grams)
		}
	}
	// What is known of the sum, and the limit, under the bar.
	y := low - 8
	whisker := span{from: xy{m.total - m.unsure, 0}, to: xy{m.total + m.unsure, 0}, ink: inkText, width: 1.4, ends: true}
	whisker.draw(c, func(at xy) vg.Point { return vg.Point{X: fx(at.x), Y: y} })
	edge := fx(m.total - m.unsure)
	if m.limit < m.total {
		edge = min(edge, fx(m.limit)) // the text keeps off the line of the limit
	}
	put(c, style(labelSize, true, inkText), edge-7, y-5, 1, fmt.Sprintf("all-up %s g, known to +- %s g", words.Fixed(m.total, 1), words.Fixed(m.unsure, 1)))
	x := fx(m.limit)
	c.StrokeLine2(draw.LineStyle{Color: inkLimit, Width: 2}, x, foot, x, high+8)
	text := "limit " + m.limitText
	if m.kept > 0 {
		text = fmt.Sprintf("%s kept back, limit %s", words.Fixed(m.kept, 1)+" g", m.limitText)
	}
	put(c, style(labelSize, true, inkLimit), x-7, foot+2, 1, text)
}

// lie fills the parts along the bar.
func (m massBar) lie(c draw.Canvas, fx func(float64) vg.Length, low, high vg.Length) {
	for i, part := range m.parts {
		group(c, part.id, part.id+": "+part.grams, func() {
			fill(c, part.ink(i), fx(part.from), low, fx(part.to), high)
		})
		if i > 0 {
			c.StrokeLine2(draw.LineStyle{Color: inkGround, Width: 1}, fx(part.from), low, fx(part.from), high)
		}
	}
}

// barLabel is a part's label and where its middle stands.
type barLabel struct {
	part massPart
	at   float64
}

// labels sets the parts' labels in one row or, where they are too many for that, in several by turns.
func (m massBar) labels(c draw.Canvas, fx func(float64) vg.Length) [][]barLabel {
	in := style(tickSize, false, inkText)
	width := func(p massPart) float64 { return float64(max(in.Width(p.slot), in.Width(p.grams))) + 9 }
	need := 0.0
	for _, p := range m.parts {
		need += width(p)
	}
	rows := make([][]barLabel, 1+int(need/float64(c.Max.X-c.Min.X)))
	for i, p := range m.parts {
		r := i % len(rows)
		rows[r] = append(rows[r], barLabel{part: p, at: float64(fx((p.from + p.to) / 2))})
	}
	for _, row := range rows {
		at, size := make([]float64, len(row)), make([]float64, len(row))
		for i, l := range row {
			at[i], size[i] = l.at, width(l.part)
		}
		for i, x := range spread(at, size, float64(c.Min.X), float64(c.Max.X)) {
			row[i].at = x
		}
	}
	return rows
}

// stand draws the bar upright, its labels to the right.
func (m massBar) stand(c draw.Canvas, p *plot.Plot) {
	_, fy := p.Transforms(&c)
	const thick = 52
	left := c.Min.X + 14
	right := left + thick
	if m.kept > 0 {
		fill(c, inkKept, c.Min.X, fy(m.limit-m.kept), right+8, fy(m.limit))
	}
	var at, size []float64
	type line struct {
		text string
		y    vg.Length
		ink  ink
		bold bool
	}
	var lines []line
	for i, part := range m.parts {
		group(c, part.id, part.id+": "+part.grams, func() {
			fill(c, part.ink(i), left, fy(part.from), right, fy(part.to))
		})
		if i > 0 {
			c.StrokeLine2(draw.LineStyle{Color: inkGround, Width: 1}, left, fy(part.from), right, fy(part.from))
		}
		lines = append(lines, line{part.id + "  " + part.grams, (fy(part.from) + fy(part.to)) / 2, inkText, false})
	}
	whisker := span{from: xy{0, m.total - m.unsure}, to: xy{0, m.total + m.unsure}, ink: inkText, width: 1.4, ends: true}
	whisker.draw(c, func(at xy) vg.Point { return vg.Point{X: left - 7, Y: fy(at.y)} })
	sum := line{fmt.Sprintf("all-up %s g, +- %s g", words.Fixed(m.total, 1), words.Fixed(m.unsure, 1)), fy(m.total), inkText, true}
	most := line{"limit " + m.limitText, fy(m.limit), inkLimit, true}
	if m.kept > 0 {
		most.text += fmt.Sprintf(", %s g kept back", words.Fixed(m.kept, 1))
	}
	c.StrokeLine2(draw.LineStyle{Color: inkLimit, Width: 2}, c.Min.X, fy(m.limit), right+8, fy(m.limit))
	if m.limit < m.total {
		lines = append(lines, most, sum)
	} else {
		lines = append(lines, sum, most)
	}
	for _, l := range lines {
		at, size = append(at, float64(l.y)), append(size, lineHeight+1)
	}
	for i, y := range spread(at, size, float64(c.Min.Y), float64(c.Max.Y)) {
		l := lines[i]
		from := vg.Point{X: right + 1, Y: l.y}
		if l.bold {
			from.X = right + 8
		}
		c.StrokeLines(draw.LineStyle{Color: inkAxis, Width: 0.7}, []vg.Point{from, {X: right + 12, Y: l.y}, {X: right + 24, Y: vg.Length(y)}})
		put(c, style(labelSize, l.bold, l.ink), right+28, vg.Length(y)-lineHeight/2, 0, l.text)
	}
}

func fill(c draw.Canvas, i ink, x0, y0, x1, y1 vg.Length) {
	c.SetColor(i)
	c.Fill(vg.Rectangle{Min: vg.Point{X: x0, Y: y0}, Max: vg.Point{X: x1, Y: y1}}.Path())
}

// put writes a line of text whose foot is at y; 0 sets it to the right of x, 0.5 in the middle, 1 to the left.
func put(c draw.Canvas, in draw.TextStyle, x, y vg.Length, share float64, text string) {
	c.FillText(in, vg.Point{X: x - vg.Length(share)*in.Width(text), Y: y + in.Font.Size*0.2}, text)
}

// spread moves the middles of things of given sizes as little as it can, in squares, so that none covers another and
// all lie between low and high. They are in rising order. Where they do not fit they are packed from low.
func spread(at, size []float64, low, high float64) []float64 {
	type block struct {
		sum, weight, length float64 // of the wanted starts of its members, counted from its own
		members             int
	}
	start := func(b block) float64 {
		return max(low, min(b.sum/b.weight, high-b.length))
	}
	var blocks []block
	for i := range at {
		b := block{sum: at[i] - size[i]/2, weight: 1, length: size[i], members: 1}
		for len(blocks) > 0 {
			last := blocks[len(blocks)-1]
			if start(last)+last.length <= start(b)+1e-9 {
				break
			}
			b = block{
				sum: last.sum + b.sum - b.weight*last.length, weight: last.weight + b.weight,
				length: last.length + b.length, members: last.members + b.members,
			}
			blocks = blocks[:len(blocks)-1]
		}
		blocks = append(blocks, b)
	}
	out := make([]float64, 0, len(at))
	i := 0
	for _, b := range blocks {
		x := math.Max(low, start(b))
		for range b.members {
			out = append(out, x+size[i]/2)
			x += size[i]
			i++
		}
	}
	return out
}
