package model

// Limit is a greatest mass with its comparison: inclusive means that a mass equal
// to it passes.
type Limit struct {
	Mass      Mass
	Inclusive bool
}

// massGrain is the difference below which two masses are the same: a nanogram is
// far below any scale and far above what adding floats can leave behind, so that
// a build of parts that add up to 250 g on paper is at 250 g here.
const massGrain Mass = 1e-12

// Allows reports whether a mass passes the limit.
func (l Limit) Allows(m Mass) bool {
	if l.Inclusive {
		return m <= l.Mass+massGrain
	}
	return m < l.Mass-massGrain
}

// At reports whether a mass is the limit's own, which the comparison decides.
func (l Limit) At(m Mass) bool { return m >= l.Mass-massGrain && m <= l.Mass+massGrain }

// Stricter reports whether l lets through less than other.
func (l Limit) Stricter(other Limit) bool {
	if d := l.Mass - other.Mass; d < -massGrain || d > massGrain {
		return d < 0
	}
	return !l.Inclusive && other.Inclusive
}
