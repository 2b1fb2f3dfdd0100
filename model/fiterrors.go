package model

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// sigma is the parameters' standard deviations from the Jacobian at the solution.
func (f *traceFit) sigma(residual []float64) CircuitSigma {
	rows := len(f.target)
	const lin, parameters = linearParameters, linearParameters + 3
	jacobian := mat.NewDense(rows+2, parameters, nil)
	raw := f.design.RawMatrix().Data
	base := make([]float64, rows)
	for k := range rows {
		for a := range lin {
			jacobian.Set(k, a, raw[lin*k+a])
		}
		base[k] = residual[k]
	}
	p := f.best
	const h = 1e-4
	for j := range 3 {
		x := []float64{f.x[0], f.x[1], f.x[2]}
		x[j] += h
		f.fill(x)
		for k := range rows {
			jacobian.Set(k, lin+j, -(f.residual(k, &p)-base[k])/h)
		}
	}
	f.fill(f.x)
	jacobian.Set(rows, lin+1, 1) // tau's prior
	jacobian.Set(rows+1, lin+2, 1)
	for from := 0; from < len(f.rows); {
		to := from + 1
		for to < len(f.rows) && !f.rows[to].first {
			to++
		}
		last := to
		if f.rows[to-1].end {
			last-- // which stands by its own sigma
		}
		spread := math.Sqrt(scaleOf(residual[from:last]))
		for k := from; k < last; k++ {
			for a := range parameters {
				jacobian.Set(k, a, jacobian.At(k, a)/spread)
			}
		}
		from = to
	}
	var normal mat.Dense
	normal.Mul(jacobian.T(), jacobian)
	sym := mat.NewSymDense(parameters, nil)
	for i := range parameters {
		for j := i; j < parameters; j++ {
			sym.SetSym(i, j, normal.At(i, j))
		}
	}
	var chol mat.Cholesky
	var cov mat.SymDense
	if !chol.Factorize(sym) || chol.InverseTo(&cov) != nil {
		return CircuitSigma{Steady: Resistance(math.Inf(1))}
	}
	n := float64(f.known.Cells)
	sd := func(v float64) float64 { return math.Sqrt(max(0, v)) }
	k := 0.0
	if f.known.K != 0 {
		k = UsualKSigma * sd(cov.At(lin+2, lin+2))
	}
	return CircuitSigma{
		K:  k,
		R0: Resistance(n * sd(cov.At(0, 0))), R1: Resistance(n * sd(cov.At(1, 1))),
		Steady:   Resistance(n * sd(cov.At(0, 0)+2*cov.At(0, 1)+cov.At(1, 1))),
		Shift:    Voltage(sd(cov.At(2, 2))),
		Capacity: Charge(f.capacity(f.x) * sd(cov.At(lin, lin))),
		Tau:      Time(f.tau(f.x) * sigmaLogTau * sd(cov.At(lin+1, lin+1))),
	}
}

// scaleOf is the variance of a trace's weighted residuals times the number of rows that tell the same
// thing: 1 + 2 times the sum of the autocorrelation up to the first lag that has none. So n rows count
// as n over that number, and never as fewer than two.
//
// Source: A. Sokal, Monte Carlo methods in statistical mechanics (1997), integrated autocorrelation time [P];
// cut at the first lag without correlation: common practice.
func scaleOf(residual []float64) float64 {
	const least = 1e-12
	n := len(residual)
	ss := 0.0
	for _, r := range residual {
		ss += r * r
	}
	if n == 0 || ss == 0 {
		return least
	}
	same := 1.0
	for lag := 1; lag < n/2; lag++ {
		product := 0.0
		for k := lag; k < n; k++ {
			product += residual[k] * residual[k-lag]
		}
		if product <= 0 {
			break
		}
		same += 2 * product / ss
	}
	return max(ss/float64(n)*min(same, float64(n)/2), least)
}
