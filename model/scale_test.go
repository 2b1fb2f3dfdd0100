package model_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"allup/model"
)

// TestReadingOfTwoParts by hand: parts of 100 g +- 3 g and 50 g +- 4 g (standard), 152 g on the scale +- 0. The
// difference of 2 g goes to the parts as 9 to 16: 0.72 g and 1.28 g; the variance of each is 9 - 81/25 = 16 -
// 256/25 = 5.76 g2, and with an exact scale one is what the other is not: covariance -5.76 g2.
func TestReadingOfTwoParts(t *testing.T) {
	g2 := float64(model.Gram) * float64(model.Gram)
	r := model.Reading{Shown: 152 * model.Gram, Sum: 150 * model.Gram, SumU: 5 * model.Gram}
	if !r.Agrees() {
		t.Error("2 g are within 2 x 5 g")
	}
	first := model.CorrelatedSum{Mass: 100 * model.Gram, Variance: 9 * g2, Covariance: 9 * g2, Aboard: true}
	second := model.CorrelatedSum{Mass: 50 * model.Gram, Variance: 16 * g2, Covariance: 16 * g2}
	m, u := r.Correct(first)
	near(t, "first part, g", m.Grams(), 100.72, 1e-12)
	near(t, "its uncertainty, g", u.Grams(), math.Sqrt(5.76), 1e-12)
	m, u = r.Correct(second)
	near(t, "second part, g", m.Grams(), 51.28, 1e-12)
	near(t, "its uncertainty, g", u.Grams(), math.Sqrt(5.76), 1e-12)
	near(t, "covariance, g2", r.Covariance(first, second, 0)/g2, -5.76, 1e-9)
}

// TestReadingBeyondTheList: 162 g on the scale, exactly, is 12 g beyond 150 +- 5 g. Both parts keep their
// masses and 12 g more are on board: without the second part 162 - 50 g, as sure as that part is.
func TestReadingBeyondTheList(t *testing.T) {
	g2 := float64(model.Gram) * float64(model.Gram)
	r := model.Reading{Shown: 162 * model.Gram, Sum: 150 * model.Gram, SumU: 5 * model.Gram}
	if r.Agrees() {
		t.Error("12 g are not within 2 x 5 g")
	}
	without := model.CorrelatedSum{Mass: 100 * model.Gram, Variance: 9 * g2, Covariance: 9 * g2, Aboard: true}
	m, u := r.Correct(without)
	near(t, "without the second part, g", m.Grams(), 112, 1e-12)
	near(t, "its uncertainty, g", u.Grams(), 4, 1e-12)
	m, u = r.Correct(model.CorrelatedSum{Mass: 150 * model.Gram, Variance: 25 * g2, Covariance: 25 * g2, Aboard: true})
	near(t, "all of it, g", m.Grams(), 162, 1e-12)
	if u.Grams() > 1e-6 {
		t.Errorf("what an exact scale shows is not known exactly: +- %v g", u.Grams())
	}
	m, u = r.Correct(model.CorrelatedSum{Mass: 50 * model.Gram, Variance: 16 * g2, Covariance: 16 * g2})
	near(t, "the second part alone, g", m.Grams(), 50, 1e-12)
	near(t, "its uncertainty, g", u.Grams(), 4, 1e-12)
}

// TestReadingCovers draws true masses, weighs them, and looks how often the truth lies within two standard
// uncertainties of the corrected masses: of what was on the scale, and of the same with another part in place
// of one. For normal errors it is 95.4 %. That a reading is taken for something unlisted in one case of twenty
// costs little.
func TestReadingCovers(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 8))
	u := []float64{0.06, 0.7, 0.5, 1.3, 0.9} // g; the last was not on the scale
	const scale, draws = 0.06, 4000
	square := func(of ...int) (sum float64) {
		for _, i := range of {
			sum += u[i] * u[i]
		}
		return sum
	}
	within := map[string]int{}
	for range draws {
		truth := make([]float64, len(u)) // errors of the list, g
		for i := range u {
			truth[i] = u[i] * random.NormFloat64()
		}
		onScale := truth[0] + truth[1] + truth[2] + truth[3]
		r := model.Reading{
			Shown: model.Mass(onScale+scale*random.NormFloat64()) * model.Gram, Uncertainty: scale * model.Gram,
			SumU: model.Mass(math.Sqrt(square(0, 1, 2, 3))) * model.Gram,
		}
		check := func(what string, variance, covariance, want float64) {
			m, got := r.Correct(model.CorrelatedSum{Variance: variance * 1e-6, Covariance: covariance * 1e-6, Aboard: true})
			if math.Abs(m.Grams()-want) <= 2*got.Grams() {
				within[what]++
			}
		}
		check("same", square(0, 1, 2, 3), square(0, 1, 2, 3), onScale)
		check("other pack", square(0, 1, 2, 4), square(0, 1, 2), truth[0]+truth[1]+truth[2]+truth[4])
	}
	for what, n := range within {
		if share := float64(n) / draws; share < 0.935 || share > 0.97 {
			t.Errorf("%s: %.1f %% of the true masses are within two standard uncertainties, want about 95.4 %%", what, 100*share)
		}
	}
	if len(within) != 2 {
		t.Errorf("judged %v", within)
	}
}
