package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"path"

	"allup/catalog/csvlog"
	"allup/model"
)

// readStand reads the table that a thrust test keeps in a file of its own.
func (r *records) readStand(t *table, test *ThrustTest) {
	name := t.text("csv")
	switch {
	case name == "":
		return
	case t.has("rows"):
		t.fault("csv", InputError{Value: quote(name), Msg: "stands beside rows", Hint: "keep one of them"})
		return
	case !fs.ValidPath(name) || r.file.FS == nil:
		t.fault("csv", InputError{Value: quote(name), Msg: "is not a file beside or below this one", Allowed: "a name such as \"stand.csv\" or \"stands/wick.csv\""})
		return
	}
	data, err := r.file.beside(name)
	if err == nil {
		test.Rows, err = standRows(data)
	}
	if missing, ok := errors.AsType[*fs.PathError](err); ok {
		err = missing.Err
	}
	if err != nil {
		t.fault("csv", InputError{Value: quote(name), Msg: "cannot be read: " + err.Error()})
	}
}

// standRows are the rows of a stand's table, each figure in its range.
func standRows(data []byte) ([]model.ThrustRow, error) {
	stand, err := csvlog.ReadStand(data)
	if err != nil {
		return nil, err
	}
	rows := make([]model.ThrustRow, len(stand))
	for i, s := range stand {
		for _, figure := range []struct {
			name  string
			value float64
			allow want
		}{
			{"throttle", s.Throttle, throttle()},
			{"voltage", s.VoltageV, standVoltage()},
			{"current", s.CurrentA, standCurrent()},
			{"thrust", s.ThrustG, standThrust()},
			{"rpm", s.RPM, span(0, speed().max, "rpm")}, // a row at rest has none
		} {
			if !figure.allow.allows(figure.value) {
				return nil, fmt.Errorf("line %d: %s %s is outside %s", s.Line, figure.name, showRounded(figure.value), figure.allow)
			}
		}
		rows[i] = model.ThrustRow{
			Throttle: s.Throttle, Voltage: model.Voltage(s.VoltageV), Current: model.Current(s.CurrentA),
			Thrust: (model.Mass(s.ThrustG) * model.Gram).Weight(), Speed: model.AngularSpeed(s.RPM) * model.RPM,
		}
	}
	return rows, nil
}

// beside reads a file that a record names, beside or below the record's own.
func (f File) beside(name string) ([]byte, error) {
	other := f
	other.Path, other.Name = path.Join(path.Dir(f.Path), name), path.Join(path.Dir(f.Name), name)
	info, err := fs.Stat(other.FS, other.Path)
	if err := onlyOrdinary(other.Name, info, err); err != nil {
		return nil, err
	}
	return other.read(maxWhole)
}
