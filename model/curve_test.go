package model_test

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/interp"
	"pgregory.net/rapid"

	"allup/model"
)

// Charge left and open-circuit voltage of cells at a few points.
// Sources: lipo, Ai et al., J. Electrochem. Soc. 167 (2020) 013512; liion, Chen et al., J.
// Electrochem. Soc. 167 (2020) 080534. lihv is lipo at charge/0.9, and 4.35 V full, by the
// project's method.
func TestCurveOf(t *testing.T) {
	for _, c := range []struct {
		chemistry model.Chemistry
		charge, v float64
	}{
		{model.LiPo, 0, 3},
		{model.LiPo, 0.05, 3.5421},
		{model.LiPo, 0.5, 3.7925},
		{model.LiPo, 0.8, 3.9945},
		{model.LiPo, 1, 4.2},
		{model.LiIon, 0, 2.5},
		{model.LiIon, 0.2, 3.4852},
		{model.LiIon, 0.55, 3.7983},
		{model.LiIon, 1, 4.2},
		{model.LiHV, 0, 3},
		{model.LiHV, 0.45, 3.7925},
		{model.LiHV, 0.72, 3.9945},
		{model.LiHV, 0.9, 4.2},
		{model.LiHV, 0.95, 4.275},
		{model.LiHV, 1, 4.35},
	} {
		near(t, fmt.Sprintf("%s at %g", c.chemistry, c.charge), curveOf(t, c.chemistry).At(c.charge), c.v, 1e-12)
	}
	if curve, err := model.CurveOf("nimh"); err == nil || !curve.IsZero() {
		t.Errorf("CurveOf(nimh) = %v, %v; want an error", curve, err)
	}
}

// Between knots the curve is that of another implementation of the cited interpolation.
func TestCurveIsFritschButland(t *testing.T) {
	for _, chemistry := range []model.Chemistry{model.LiPo, model.LiIon} {
		curve := curveOf(t, chemistry)
		charge, volts := curve.Knots()
		plain := make([]float64, len(volts))
		for i, v := range volts {
			plain[i] = float64(v)
		}
		var fit interp.FritschButland
		if err := fit.Fit(charge, plain); err != nil {
			t.Fatal(err)
		}
		for s := 0.0; s <= 1; s += 1.0 / 512 {
			near(t, fmt.Sprintf("%s at %g", chemistry, s), curve.At(s), fit.Predict(s), 1e-12)
		}
	}
}

func TestCurveShape(t *testing.T) {
	for _, chemistry := range model.Chemistries() {
		curve := curveOf(t, chemistry)
		const h = 1e-7
		slope := func(a float64) float64 { return float64(curve.At(a+h)-curve.At(a)) / h }
		charge, _ := curve.Knots()
		for _, s := range charge {
			joins := chemistry != model.LiHV || s != 0.9 // where the straight line of lihv begins
			if a, b := slope(s-h), slope(s); joins && math.Abs(a-b) > 2e-3 {
				t.Errorf("%s: slope jumps from %v to %v at %v", chemistry, a, b, s)
			}
		}
		for s := -0.2; s < 1.2; s += 1.0 / 1000 {
			if curve.At(s+1e-3) < curve.At(s) {
				t.Errorf("%s: voltage falls from charge %v up", chemistry, s)
			}
		}
		// Outside, the straight line along the end.
		near(t, "half way to below", curve.At(-0.05)-curve.At(-0.1), float64(curve.At(0)-curve.At(-0.05)), 1e-9)
		near(t, "half way to above", curve.At(1.1)-curve.At(1.05), float64(curve.At(1.05)-curve.At(1)), 1e-9)
	}
}

func TestEvenCurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := rapid.SliceOfN(rapid.Float64Range(0, 0.3), 1, 30).Draw(t, "steps")
		volts := []model.Voltage{model.Voltage(rapid.Float64Range(1, 3).Draw(t, "empty"))}
		for _, d := range steps {
			volts = append(volts, volts[len(volts)-1]+model.Voltage(d))
		}
		curve, err := model.EvenCurve(volts)
		if err != nil {
			t.Fatalf("EvenCurve(%v) failed: %v", volts, err)
		}
		for i, v := range volts {
			near(t, "voltage at a knot", curve.At(float64(i)/float64(len(steps))), float64(v), 1e-12)
		}
		a := rapid.Float64Range(0, 1).Draw(t, "a")
		b := rapid.Float64Range(0, 1).Draw(t, "b")
		if v, w := curve.At(min(a, b)), curve.At(max(a, b)); v > w+1e-12 {
			t.Errorf("voltage falls from %v at %v to %v at %v", v, min(a, b), w, max(a, b))
		}
	})
	line := straightCurve(t, 4.2, 3.2)
	near(t, "a straight line at 0.3", line.At(0.3), 3.5, 1e-14)
	near(t, "a straight line at -1", line.At(-1), 2.2, 1e-14)
	near(t, "a straight line at 2", line.At(2), 5.2, 1e-14)
}

func TestEvenCurveRefuses(t *testing.T) {
	for _, volts := range [][]model.Voltage{
		nil, {3.7}, {3, 4, 3.9}, {0, 4}, {-1, 4}, {3, model.Voltage(math.Inf(1))}, {model.Voltage(math.NaN()), 4}, {3, model.Voltage(math.NaN())},
	} {
		if curve, err := model.EvenCurve(volts); err == nil || !curve.IsZero() {
			t.Errorf("EvenCurve(%v) = %v, %v; want an error", volts, curve, err)
		}
	}
}

// What Knots returns is the caller's.
func TestCurveIsNotTouchedThroughItsKnots(t *testing.T) {
	curve := curveOf(t, model.LiHV)
	charge, volts := curve.Knots()
	for i := range charge {
		charge[i], volts[i] = 0, 0
	}
	near(t, "voltage", curve.At(0.45), 3.7925, 1e-12)
}

// Source: the tabulated curves of the project's reference data, computed from the half-cell
// data that Ai et al. 2020 and Chen et al. 2020 published.
func TestCurvesAgainstTheReferenceTable(t *testing.T) {
	folder := os.Getenv("ALLUP_REFERENCE")
	if folder == "" {
		t.Skip("ALLUP_REFERENCE names no folder with ocv.csv")
	}
	file, err := os.Open(filepath.Join(folder, "ocv.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows := 0
	for lines := bufio.NewScanner(file); lines.Scan(); {
		var s, lipo, liion float64
		if n, _ := fmt.Sscanf(strings.ReplaceAll(lines.Text(), ",", " "), "%f %f %f", &s, &lipo, &liion); n != 3 {
			continue // comment and header
		}
		rows++
		within(t, fmt.Sprintf("lipo at %g", s), curveOf(t, model.LiPo).At(s), lipo, 1e-9)
		within(t, fmt.Sprintf("liion at %g", s), curveOf(t, model.LiIon).At(s), liion, 1e-9)
	}
	if rows != 21 {
		t.Errorf("%d rows, want 21", rows)
	}
}
