package planner

import (
	"cmp"
	"math"

	"allup/catalog"
	"allup/model"
)

// Merit is how well a build does on a pack by its goal: the weighted geometric mean of flight time in minutes,
// punch ratio and, where price counts, minutes for one unit of the currency. It is a fixed function of one
// answer, rising in time and punch: whatever else is ranked changes neither it nor the order of any two packs.
type Merit struct {
	Value  float64
	Priced bool // price is in it
}

// Merit is that of a flight time and a punch ratio, both above zero, on a pack.
func (p *Plan) Merit(time model.Time, punch float64, pack *catalog.Pack) Merit {
	price, priced := p.priceOf(pack)
	return Merit{math.Exp(p.logMerit(float64(time), punch, price, priced)), priced}
}

// better orders merits, the best first: what has a price where price counts stands before what has none, since the two
// do not compare.
func (m Merit) better(other Merit) int {
	if m.Priced != other.Priced {
		if m.Priced {
			return -1
		}
		return 1
	}
	return cmp.Compare(other.Value, m.Value)
}

// logMerit is the logarithm of a merit, -Inf where there is no flight; the time is in seconds.
func (p *Plan) logMerit(time, punch, price float64, priced bool) float64 {
	if !(time > 0 && punch > 0) {
		return math.Inf(-1)
	}
	g := p.Build.Goal
	minutes := math.Log(time / float64(model.Minute))
	sum, weights := g.Time*minutes+g.Punch*math.Log(punch), g.Time+g.Punch
	if priced {
		sum += g.Price * (minutes - math.Log(price))
		weights += g.Price
	}
	if weights == 0 {
		return minutes // a goal of price alone, for a pack without one
	}
	return sum / weights
}

// Currency is the one in which prices count: the goal's own, or that of today's pack. It is "" where the goal does not
// weigh price, or the build does not say in which currency. What else is in the catalogue does not matter.
func (p *Plan) Currency() string {
	switch g := p.Build.Goal; {
	case g.Price <= 0:
		return ""
	case g.Currency != "":
		return g.Currency
	case p.Pack != nil && p.Pack.Price != nil && *p.Pack.Price > 0:
		return p.Pack.Currency
	}
	return ""
}

// priceOf is the price of a pack that counts; ok is false where none does.
func (p *Plan) priceOf(pack *catalog.Pack) (price float64, ok bool) {
	currency := p.Currency()
	if currency == "" || pack.Price == nil || !(*pack.Price > 0) || pack.Currency != currency {
		return 0, false
	}
	return *pack.Price, true
}

// warnPrices says that price does not count although the goal weighs it.
func (p *Plan) warnPrices() {
	if p.Build.Goal.Price > 0 && p.Currency() == "" {
		p.warn(NoCurrency, "", "the goal weighs price, but neither it nor today's pack says in which currency: price is left out of the ranking; write currency beside price")
	}
}
