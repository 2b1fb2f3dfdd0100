package catalog

import (
	_ "embed"
	"fmt"

	"github.com/BurntSushi/toml"

	"allup/model"
)

// Threshold is a published take-off-mass threshold, with unit and comparison as
// published. It is a fact about a rule's text, not advice, and rules change.
type Threshold struct {
	ID         string
	Where      string
	Instrument string
	Published  string       // the comparison as its text has it, "< 250 g"
	Limit      *model.Limit // nil where no threshold was found
	Counts     string       // the mass that counts
	Relieves   string       // what a lighter aircraft is relieved of, and the catch
	Speed      *SpeedClause // nil where there is none, as far as the text was read
	Camera     string       // what a camera on board asks for at any mass; "" where the text read says nothing of it
	Source     SourceKind
	Read       int // the year in which the source was read
}

// SpeedClause is what a threshold asks for besides a mass.
type SpeedClause struct {
	Below    model.Speed  // greatest speed, not included
	Transfer model.Energy // of an impact, above which the aircraft is registered after all
}

// SourceKind is what a threshold is known by.
type SourceKind string

// The kinds of source, the surest first.
const (
	OfficialText    SourceKind = "official text"
	SecondarySource SourceKind = "a secondary source"
	FromMemory      SourceKind = "memory"
)

//go:embed thresholds.toml
var thresholdsFile []byte

// Thresholds lists the thresholds in a fixed order. The list is the caller's own.
func Thresholds() []Threshold {
	thresholds, err := parseThresholds(thresholdsFile)
	if err != nil {
		panic("catalog: the embedded thresholds cannot be read: " + err.Error())
	}
	return thresholds
}

// LookupThreshold is the threshold of an id; ok is false where there is none.
func LookupThreshold(id string) (t Threshold, ok bool) {
	for _, t := range Thresholds() {
		if t.ID == id {
			return t, true
		}
	}
	return Threshold{}, false
}

// StrictestOf is the threshold that lets through least; ok is false where none of
// them has a limit. Equally strict ones keep the first.
func StrictestOf(thresholds []Threshold) (strictest Threshold, ok bool) {
	for _, t := range thresholds {
		if t.Limit != nil && (!ok || t.Limit.Stricter(*strictest.Limit)) {
			strictest, ok = t, true
		}
	}
	return strictest, ok
}

// thresholdRecord is a threshold as the file has it.
type thresholdRecord struct {
	ID         string   `toml:"id"`
	Where      string   `toml:"where"`
	Instrument string   `toml:"instrument"`
	Published  string   `toml:"published"`
	MassG      *float64 `toml:"mass_g"`
	MassLb     *float64 `toml:"mass_lb"`
	Inclusive  bool     `toml:"inclusive"`
	Counts     string   `toml:"counts"`
	Relieves   string   `toml:"relieves"`
	Speed      *struct {
		Below    float64 `toml:"below_m_s"`
		Transfer float64 `toml:"transfer_j"`
	} `toml:"speed"`
	Camera string     `toml:"camera"`
	Source SourceKind `toml:"source"`
	Read   int        `toml:"read"`
}

// parseThresholds reads a file of thresholds. A field that nobody knows, an id that is there twice and
// a source of another kind are errors.
func parseThresholds(data []byte) ([]Threshold, error) {
	var file struct {
		Thresholds []thresholdRecord `toml:"threshold"`
	}
	meta, err := toml.Decode(string(data), &file)
	if err != nil {
		return nil, err
	}
	if unknown := meta.Undecoded(); len(unknown) > 0 {
		return nil, fmt.Errorf("unknown field %s", unknown[0])
	}
	seen := map[string]bool{}
	thresholds := make([]Threshold, 0, len(file.Thresholds))
	for _, r := range file.Thresholds {
		t, err := r.threshold()
		switch {
		case err != nil:
			return nil, fmt.Errorf("threshold %q: %w", r.ID, err)
		case seen[r.ID]:
			return nil, fmt.Errorf("threshold %q: is there twice", r.ID)
		}
		seen[r.ID] = true
		thresholds = append(thresholds, t)
	}
	return thresholds, nil
}

func (r thresholdRecord) threshold() (Threshold, error) {
	t := Threshold{
		ID: r.ID, Where: r.Where, Instrument: r.Instrument, Published: r.Published, Counts: r.Counts,
		Relieves: r.Relieves, Camera: r.Camera, Source: r.Source, Read: r.Read,
	}
	switch {
	case r.MassG != nil && r.MassLb != nil:
		return Threshold{}, fmt.Errorf("has both mass_g and mass_lb")
	case r.MassG != nil:
		t.Limit = &model.Limit{Mass: model.Mass(*r.MassG) * model.Gram, Inclusive: r.Inclusive}
	case r.MassLb != nil:
		t.Limit = &model.Limit{Mass: model.Mass(*r.MassLb) * model.Pound, Inclusive: r.Inclusive}
	}
	if t.Limit != nil && !(t.Limit.Mass > 0) {
		return Threshold{}, fmt.Errorf("has a mass of %v kg", float64(t.Limit.Mass))
	}
	if r.Speed != nil {
		t.Speed = &SpeedClause{Below: model.Speed(r.Speed.Below), Transfer: model.Energy(r.Speed.Transfer)}
	}
	switch t.Source {
	case OfficialText, SecondarySource, FromMemory:
		return t, nil
	}
	return Threshold{}, fmt.Errorf("source %q is of no known kind", r.Source)
}
