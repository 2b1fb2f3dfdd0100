package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"

	"allup/model/words"
)

// Text is the drawing in characters, for a terminal of at least so many columns: the first panel, small. Where the
// terminal has no UTF-8 it is drawn in ASCII. It is nil for drawings whose axes have names instead of numbers.
func (d *Drawing) Text(columns int, utf8 bool) []string {
	signs := ascii
	if utf8 {
		signs = unicode
	}
	switch s := d.panels[0].on(false).(type) {
	case scene:
		if s.x.names == nil && s.y.names == nil {
			return s.text(columns, signs)
		}
	case massBar:
		return s.text(columns, signs)
	}
	return nil
}

// signs are the characters that a drawing in text is made of.
type signs struct {
	dots             bool // curves are made of the dots of Braille, eight a character
	front, full, few rune // points: of the front, others, hollow
	up, along, foot  rune // axes and their corner
	rule, level      rune // rules, upright and lying
	curves           []rune
	parts            []rune // of a bar, by turns; the last is the pack's
	low, mid, high   rune   // a band's ends and what is between
}

var (
	ascii   = signs{front: '#', full: '*', few: 'o', up: '|', along: '-', foot: '+', rule: ':', level: '-', curves: []rune(".=~,'"), parts: []rune("=-#"), low: '|', mid: '-', high: '|'}
	unicode = signs{dots: true, front: '●', full: '•', few: '○', up: '│', along: '─', foot: '└', rule: '┊', level: '┈', parts: []rune("▓▒█"), low: '├', mid: '─', high: '┤'}
)

// grid is a drawing in characters, its rows from the top.
type grid struct {
	w, h  int
	cells [][]rune
	held  [][]bool // by a label or a point: nothing may go over it
	dots  [][]uint8
}

func newGrid(w, h int) *grid {
	g := &grid{w: w, h: h}
	for range h {
		row := make([]rune, w)
		for i := range row {
			row[i] = ' '
		}
		g.cells, g.held, g.dots = append(g.cells, row), append(g.held, make([]bool, w)), append(g.dots, make([]uint8, w))
	}
	return g
}

// text draws the scene in characters.
func (s scene) text(columns int, with signs) []string {
	const rows, gap = 15, 1
	s = s.withoutBands()
	yTicks := evenTicks(s.y.min, s.y.max, rows/3, s.y.percent)
	left := 0
	for _, t := range yTicks {
		left = max(left, len(t.Label))
	}
	w := columns - left - gap - 1
	g := newGrid(w, rows)
	column := func(v float64) int { return int(math.Floor((v - s.x.min) / (s.x.max - s.x.min) * float64(w))) }
	row := func(v float64) int { return rows - 1 - int(math.Floor((v-s.y.min)/(s.y.max-s.y.min)*rows)) }
	for _, r := range s.rules {
		g.rule(r, column, row, with)
	}
	for i, k := range s.curves {
		g.curve(k.line, s, i, with)
	}
	// The most important point is the last that is drawn, and the first that is named.
	for _, p := range slices.Backward(s.points) {
		sign := with.full
		switch {
		case p.hollow:
			sign = with.few
		case p.bold || p.ink == inkOne:
			sign = with.front
		}
		if x, y := column(p.at.x), row(p.at.y); g.in(x, y) && !g.held[y][x] {
			g.put(x, y, string(sign))
		}
	}
	for _, least := range []bool{false, true} {
		for _, p := range slices.Backward(s.points) {
			if p.label != "" && p.least == least {
				g.label(p.label, column(p.at.x), row(p.at.y), least)
			}
		}
		for _, k := range s.curves {
			if k.label == "" || k.least != least || len(k.line) == 0 {
				continue
			}
			places := []int{len(k.line) - 1}
			if k.along {
				for part := 7; part > 1; part-- {
					places = append(places, (len(k.line)-1)*part/8)
				}
			}
			for _, i := range places {
				if g.label(k.label, column(k.line[i].x), row(k.line[i].y), least) {
					break
				}
			}
		}
	}
	return s.framed(g, left, yTicks, row, column, with)
}

// withoutBands is the scene with axes for its points alone, where these have bands: they are not drawn in characters.
func (s scene) withoutBands() scene {
	x, y := extent{}, extent{}
	bands := false
	for _, p := range s.points {
		bands = bands || p.cross != nil
		x.include(p.at.x)
		y.include(p.at.y)
	}
	if bands {
		s.x.min, s.x.max = x.padded()
		s.y.min, s.y.max = y.padded()
	}
	return s
}

// framed are the lines of a grid with its axes around it.
func (s scene) framed(g *grid, left int, yTicks []plot.Tick, row, column func(float64) int, with signs) []string {
	margin := strings.Repeat(" ", left+1)
	lines := []string{margin + words.Clean(s.y.label)}
	numbers := map[int]string{}
	for _, t := range yTicks {
		numbers[row(t.Value)] = t.Label
	}
	for y := range g.h {
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%*s %c", left, numbers[y], with.up)+g.line(y), " "))
	}
	lines = append(lines, margin+string(with.foot)+strings.Repeat(string(with.along), g.w))
	foot := newGrid(g.w+1, 1)
	for _, t := range evenTicks(s.x.min, s.x.max, g.w/12, s.x.percent) {
		if at := column(t.Value) + 1 - len(t.Label)/2; at >= 0 && at+len(t.Label) <= foot.w {
			foot.put(at, 0, t.Label)
		}
	}
	lines = append(lines, strings.TrimRight(margin+foot.line(0), " "))
	key := ""
	if slices.ContainsFunc(s.points, func(p point) bool { return p.hollow }) && s.fewSays != "" {
		key = fmt.Sprintf(" %c %s, %c %s", with.front, s.frontSays, with.few, s.fewSays)
	}
	label := words.Clean(s.x.label)
	return append(lines, margin+key+strings.Repeat(" ", max(2, g.w+1-len([]rune(key+label))))+label)
}

func (g *grid) in(x, y int) bool { return x >= 0 && x < g.w && y >= 0 && y < g.h }

// put writes text that nothing may go over.
func (g *grid) put(x, y int, text string) {
	for i, r := range []rune(text) {
		g.cells[y][x+i], g.held[y][x+i], g.dots[y][x+i] = r, true, 0
	}
}

func (g *grid) line(y int) string {
	var b strings.Builder
	for x, r := range g.cells[y] {
		if g.dots[y][x] > 0 && !g.held[y][x] {
			r = 0x2800 + rune(g.dots[y][x])
		}
		b.WriteRune(r)
	}
	return b.String()
}

// free reports whether text may stand somewhere: over nothing that is held, with a blank at either end, and over no
// curve either where it need not stand there.
func (g *grid) free(x, y, length int, need bool) bool {
	if !g.in(x, y) || !g.in(x+length-1, y) {
		return false
	}
	for i := max(0, x-1); i <= min(g.w-1, x+length); i++ {
		inside := i >= x && i < x+length
		if g.held[y][i] || inside && !need && (g.dots[y][i] > 0 || g.cells[y][i] != ' ') {
			return false
		}
	}
	return true
}

// label puts text beside a place where there is room, and reports whether there was.
func (g *grid) label(text string, x, y int, least bool) bool {
	n := len([]rune(text))
	beside := [][2]int{{x + 2, y}, {x - n - 1, y}}
	if !least {
		beside = append(beside, [][2]int{
			{x - n/2, y - 1},
			{x - n/2, y + 1},
			{x + 1, y - 1},
			{x + 1, y + 1},
			{x - n, y - 1},
			{x - n, y + 1},
			{x + 1, y - 2},
			{x + 1, y + 2},
			{x - n, y - 2},
			{x - n, y + 2},
			{x - n, y - 3},
			{x - n, y + 3},
		}...)
	}
	for _, need := range []bool{false, true} {
		for _, at := range beside {
			// A held place beside it is the point's own.
			if g.free(at[0], at[1], n, need) {
				g.put(at[0], at[1], text)
				return true
			}
		}
		if least {
			break
		}
	}
	return false
}

// rule draws a line across, and its label beside it.
func (g *grid) rule(r rule, column, row func(float64) int, with signs) {
	label := words.Clean(r.label)
	if r.horizontal {
		y := row(r.at)
		if !g.in(0, y) {
			return
		}
		for x := range g.w {
			g.cells[y][x] = with.level
		}
		if g.free(1, y, len(label), true) {
			g.put(1, y, label)
		}
		return
	}
	x := column(r.at)
	if !g.in(x, 0) {
		return
	}
	for y := range g.h {
		g.cells[y][x] = with.rule
	}
	for _, at := range []int{x - len(label) - 1, x + 2} {
		if label != "" && g.free(at, 0, len(label), true) {
			g.put(at, 0, label)
			return
		}
	}
}

// curve draws a line through points: in dots, or in the i-th sign.
func (g *grid) curve(line []xy, s scene, i int, with signs) {
	// Two dots across and four down make a character of Braille; these are their bits.
	bits := [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
	place := func(at xy) (x, y float64) {
		return (at.x - s.x.min) / (s.x.max - s.x.min) * float64(2*g.w), (1 - (at.y-s.y.min)/(s.y.max-s.y.min)) * float64(4*g.h)
	}
	for k := range max(len(line)-1, 0) {
		x0, y0 := place(line[k])
		x1, y1 := place(line[k+1])
		n := int(max(math.Abs(x1-x0), math.Abs(y1-y0))) + 1
		for j := range n + 1 {
			u := float64(j) / float64(n)
			dx, dy := int(math.Floor(x0+u*(x1-x0))), int(math.Floor(y0+u*(y1-y0)))
			x, y := dx>>1, dy>>2
			if !g.in(x, y) || g.held[y][x] {
				continue
			}
			if with.dots {
				g.dots[y][x] |= bits[dy&3][dx&1]
			} else {
				g.cells[y][x] = with.curves[i%len(with.curves)]
			}
		}
	}
}

// text draws the bar in characters: names above it where there is room, under it what is known of the sum, and
// the limit.
func (m massBar) text(columns int, with signs) []string {
	const rows, names, grams, bar, known, limit = 5, 0, 1, 2, 3, 4
	g := newGrid(columns, rows)
	most := max(m.limit, m.total+m.unsure)
	column := func(v float64) int { return min(int(math.Round(v/most*float64(columns-1))), columns-1) }
	for i, p := range m.parts {
		sign := with.parts[i%2]
		if p.pack {
			sign = with.parts[len(with.parts)-1]
		}
		for x := column(p.from); x < column(p.to); x++ {
			g.cells[bar][x] = sign
		}
	}
	// Heavy parts are named first.
	parts := slices.Clone(m.parts)
	slices.SortStableFunc(parts, func(a, b massPart) int { return sign((b.to - b.from) - (a.to - a.from)) })
	for _, p := range parts {
		n := max(len([]rune(p.slot)), len(p.grams))
		at := max(0, min((column(p.from)+column(p.to)-n)/2, columns-n))
		if g.free(at, names, n, true) && g.free(at, grams, n, true) {
			g.put(at, names, fmt.Sprintf("%-*s", n, p.slot))
			g.put(at, grams, fmt.Sprintf("%-*s", n, p.grams))
		}
	}
	low, high := column(m.total-m.unsure), column(m.total+m.unsure)
	for x := low; x <= high; x++ {
		g.cells[known][x] = with.mid
	}
	g.cells[known][low], g.cells[known][high] = with.low, with.high
	sum := fmt.Sprintf("all-up %s g, known to +- %s g", words.Fixed(m.total, 1), words.Fixed(m.unsure, 1))
	at := column(m.limit)
	g.put(max(0, min(low, at)-1-len(sum)), known, sum)
	for y := bar; y <= limit; y++ {
		g.cells[y][at] = with.up
	}
	text := "limit " + m.limitText
	if m.kept > 0 {
		text = words.Fixed(m.kept, 1) + " g kept back, " + text
	}
	g.put(max(0, at-1-len(text)), limit, text)
	lines := make([]string, rows)
	for y := range rows {
		lines[y] = strings.TrimRight(g.line(y), " ")
	}
	return lines
}
