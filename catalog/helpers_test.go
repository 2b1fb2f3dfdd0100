package catalog_test

import (
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"allup/catalog"
	"allup/model"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// within compares quantities to a part in 1e12: a file's number times a unit is not
// rounded as a constant expression is.
func within[T ~float64](a, b T) bool {
	return math.Abs(float64(a-b)) <= 1e-12*math.Max(math.Abs(float64(a)), math.Abs(float64(b)))
}

// sameValues compares records and builds whole.
func sameValues() cmp.Options {
	return cmp.Options{
		cmp.Comparer(within[model.Mass]), cmp.Comparer(within[model.Length]), cmp.Comparer(within[model.Time]),
		cmp.Comparer(within[model.Voltage]), cmp.Comparer(within[model.Current]), cmp.Comparer(within[model.Resistance]),
		cmp.Comparer(within[model.Power]), cmp.Comparer(within[model.Energy]), cmp.Comparer(within[model.Charge]),
		cmp.Comparer(within[model.Force]), cmp.Comparer(within[model.AngularSpeed]), cmp.Comparer(within[model.SpeedConstant]),
		cmp.Comparer(within[model.Density]), cmp.Comparer(within[model.Temperature]), cmp.Comparer(within[float64]),
		cmp.Comparer(func(a, b model.Curve) bool { return reflect.DeepEqual(a, b) }),
		cmp.Comparer(func(a, b *catalog.Catalogue) bool { return a == b }),
		cmpopts.IgnoreUnexported(catalog.Build{}),
	}
}

func ptr[T any](v T) *T { return &v }

// load reads one file of records, which must be good, over nothing.
func load(t *testing.T, text string) (*catalog.Catalogue, []catalog.Warning) {
	t.Helper()
	c, warnings, err := catalog.Load(memoryLayer("parts", map[string][]byte{"parts.toml": []byte(text)}))
	if err != nil {
		t.Fatalf("Load: %v", err)
	}
	return c, warnings
}

// base is the catalogue of testdata/broken/base.toml.
func base(t testing.TB) *catalog.Catalogue {
	t.Helper()
	c, _, err := catalog.Load(brokenBase())
	if err != nil {
		t.Fatalf("Load: %v", err)
	}
	return c
}

func readBuild(t *testing.T, text string, parts *catalog.Catalogue) (*catalog.Build, []catalog.Warning) {
	t.Helper()
	b, warnings, err := catalog.ReadBuild("stint.toml", strings.NewReader(text), parts)
	if err != nil {
		t.Fatalf("ReadBuild: %v", err)
	}
	return b, warnings
}

func codes(warnings []catalog.Warning) []string {
	var codes []string
	for _, w := range warnings {
		codes = append(codes, w.Code)
	}
	return codes
}

// starter is the template of a kind.
func starter(kind string) string {
	s, _ := catalog.StarterOf(kind)
	return string(s.Text)
}
