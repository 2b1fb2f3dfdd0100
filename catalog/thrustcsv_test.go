package catalog_test

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
)

const standRecord = `
[thrust_test.mine]
motor = "wick-1404-3800"
prop = "reed-35x22-2"
csv = "stands/table.csv"
`

func loadStand(record, csv string) (*catalog.ThrustTest, error) {
	fsys := fstest.MapFS{"my/parts.toml": {Data: []byte(record)}, "my/stands/table.csv": {Data: []byte(csv)}}
	layer := catalog.Layer{Name: "parts", Files: []catalog.File{{Name: "parts.toml", FS: fsys, Path: "my/parts.toml"}}}
	cat, _, err := catalog.Load(catalog.Builtin(), layer)
	if err != nil {
		return nil, err
	}
	return cat.ThrustTests["mine"], nil
}

func nearly[T ~float64]() cmp.Option {
	return cmp.Comparer(func(a, b T) bool { return math.Abs(float64(a-b)) <= 1e-12*math.Abs(float64(a)) })
}

// TestStandTables reads one table in the ways that stands write it.
func TestStandTables(t *testing.T) {
	g := func(grams float64) model.Force { return (model.Mass(grams) * model.Gram).Weight() }
	want := []model.ThrustRow{
		{Throttle: 0.5, Voltage: 15.5, Current: 2.5, Thrust: g(165), Speed: 27000 * model.RPM},
		{Throttle: 1, Voltage: 15.25, Current: 15.5, Thrust: g(550), Speed: 49000 * model.RPM},
	}
	for name, csv := range map[string]string{
		"plain":      "throttle,voltage,current,thrust_g,rpm\n0.5,15.5,2.5,165,27000\n1,15.25,15.5,550,49000\n",
		"percent":    "Throttle (%),Voltage (V),Current (A),Thrust (gf),RPM\n50,15.5,2.5,165,27000\n100,15.25,15.5,550,49000\n",
		"bare":       "throttle,voltage,current,thrust [kg],rpm\n50,15.5,2.5,0.165,27000\n100,15.25,15.5,0.55,49000\n",
		"semicolons": "\ufeff# my stand\n\nthrottle;spannung [mV];strom [mA];schub [g];drehzahl\n0,5;15500;2500;165;27000\n\n1;15250;15500;550;49000\n",
		"tabs":       "rpm\tthrust n\tcurrent a\tvoltage v\tthrottle %\tnote\n27000\t1.61809725\t2.5\t15.5\t50\ta\n49000\t5.3936575\t15.5\t15.25\t100\tb\n",
		"signs":      "throttle,voltage,current,thrust_g,rpm\n0.5,15.5,-2.5,-165,27000\n1,15.25,-15.5,-550,49000\n",
	} {
		t.Run(name, func(t *testing.T) {
			test, err := loadStand(standRecord, csv)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, test.Rows, nearly[float64](), nearly[model.Force](), nearly[model.Voltage](), nearly[model.Current](), nearly[model.AngularSpeed]()); diff != "" {
				t.Errorf("rows (-want +got):\n%s", diff)
			}
		})
	}
}

// TestBrokenStandTables: what is wrong is said with the table's line.
func TestBrokenStandTables(t *testing.T) {
	const head = "throttle,voltage,current,thrust_g\n"
	for name, c := range map[string]struct{ record, csv, want string }{
		"no unit":     {standRecord, "throttle,voltage,current,thrust\n1,15,10,400\n", `column "thrust" does not say its unit: write it as thrust_g or thrust_n`},
		"odd unit":    {standRecord, "throttle,voltage,current,thrust (t)\n1,15,10,400\n", `"t" is no unit of thrust that is known`},
		"no column":   {standRecord, "throttle,voltage,thrust_g\n1,15,400\n", `no column of current among "throttle", "voltage", "thrust_g"`},
		"two columns": {standRecord, "throttle,voltage,current,thrust_g,thrust_n\n1,15,10,400,4\n", `two columns may be the thrust: "thrust_g" and "thrust_n"`},
		"word":        {standRecord, head + "0.5,15,5,200\n1,15,lots,400\n", `line 3: current "lots" is not a number`},
		"short row":   {standRecord, head + "0.5,15,5\n", "line 2: the row has no thrust"},
		"range":       {standRecord, head + "# at rest\n0.5,150,5,200\n", "line 3: voltage 150 is outside 1 to 60 V"},
		"empty":       {standRecord, "", "it is empty"},
		"no rows":     {standRecord, head, "it has no rows below its header"},
		"a log":       {standRecord, head + strings.Repeat("0.5,15,5,200\n", 1001), "that is a log and no table"},
		"missing":     {strings.Replace(standRecord, "table.csv", "other.csv", 1), head, `parts.toml:5: thrust_test.mine.csv: "stands/other.csv" cannot be read: file does not exist`},
		"above":       {strings.Replace(standRecord, "stands/", "../", 1), head, "is not a file beside or below this one"},
		"both":        {standRecord + "rows = [{ throttle = 1, voltage_v = 15, current_a = 10, thrust_g = 400 }]\n", head, "stands beside rows"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := loadStand(c.record, c.csv); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q", err, c.want)
			}
		})
	}
}
