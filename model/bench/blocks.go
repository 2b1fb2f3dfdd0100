package bench

// lineFit is a straight line through points by least squares.
type lineFit struct{ n, x, y, xx, xy, yy float64 }

func (f *lineFit) add(x, y float64) {
	f.n++
	f.x += x
	f.y += y
	f.xx += x * x
	f.xy += x * y
	f.yy += y * y
}

// fit is y at x = 0 and the slope; ok is false without two different x.
func (f *lineFit) fit() (at0, slope float64, ok bool) {
	d := f.n*f.xx - f.x*f.x
	if f.n < 2 || d <= 1e-12*f.n*f.xx {
		return 0, 0, false
	}
	slope = (f.n*f.xy - f.x*f.y) / d
	return (f.y - slope*f.x) / f.n, slope, true
}

// sse is the sum of squares that the line leaves.
func (f *lineFit) sse() float64 {
	a, b, ok := f.fit()
	if !ok {
		return 0
	}
	return max(0, f.yy-a*f.y-b*f.xy)
}

// minus is the line through the points of f that are not among those of g.
func (f lineFit) minus(g lineFit) lineFit {
	return lineFit{f.n - g.n, f.x - g.x, f.y - g.y, f.xx - g.xx, f.xy - g.xy, f.yy - g.yy}
}

// blockStore keeps a log of any length as up to mostBlocks means of equally many
// points: when it is full, neighbours merge.
type blockStore struct {
	blocks []moment
	per    int
	sum    moment
	n      int
}

func (b *blockStore) add(p moment) {
	if b.blocks == nil {
		b.blocks, b.per = make([]moment, 0, mostBlocks), 1
	}
	if b.n == 0 {
		b.sum = moment{line: p.line}
	}
	s := &b.sum
	s.t += p.t
	s.v += p.v
	s.i += p.i
	s.q += p.q
	s.e += p.e
	if b.n++; b.n < b.per {
		return
	}
	b.blocks = append(b.blocks, s.over(b.n))
	b.n = 0
	if len(b.blocks) == mostBlocks {
		for k := range mostBlocks / 2 {
			x, y := b.blocks[2*k], b.blocks[2*k+1]
			m := moment{t: x.t + y.t, v: x.v + y.v, i: x.i + y.i, q: x.q + y.q, e: x.e + y.e, line: x.line}
			b.blocks[k] = m.over(2)
		}
		b.blocks = b.blocks[:mostBlocks/2]
		b.per *= 2
	}
}

// until lists the blocks that lie before a time. A last part of a block counts.
func (b *blockStore) until(t float64) []moment {
	blocks := b.blocks
	if b.n > 0 {
		blocks = append(blocks, b.sum.over(b.n))
	}
	for len(blocks) > 0 && blocks[len(blocks)-1].t > t {
		blocks = blocks[:len(blocks)-1]
	}
	return blocks
}

func (p moment) over(n int) moment {
	f := 1 / float64(n)
	return moment{t: p.t * f, v: p.v * f, i: p.i * f, q: p.q * f, e: p.e * f, line: p.line}
}
