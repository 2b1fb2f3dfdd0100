package sheet

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"allup/model/words"
)

// TestWriteJSON holds piece by piece against the standard library's encoder, to the byte.
func TestWriteJSON(t *testing.T) {
	type embedded struct {
		A int `json:"a"`
	}
	type leaf struct {
		Name string `json:"name"`
		Omit string `json:"omit,omitempty"`
	}
	type outer struct {
		Text  string              `json:"text"`
		None  *float64            `json:"none"`
		One   *float64            `json:"one"`
		Nil   []leaf              `json:"nil"`
		Empty []leaf              `json:"empty"`
		Some  []leaf              `json:"some"`
		Lists map[string][]string `json:"lists"`
		Pair  [2]float64          `json:"pair"`
		Any   any                 `json:"any"`
		Nope  any                 `json:"nope"`
		List  List                `json:"list"`
		Void  List                `json:"void"`
		Keys  []Object            `json:"keys"`
	}
	one := 1.5
	list := List{Len: 3, At: func(i int) any { return Object{}.With("i", i).With("deep", []any{i, "<&>"}) }}
	value := outer{
		Text: "a <b> & \"c\"\n", One: &one, Empty: []leaf{}, Some: []leaf{{"x", ""}, {"y", "z"}}, Lists: map[string][]string{"b": {"1"}, "a": {}},
		Any: []outer{}, List: list, Keys: []Object{nil, Object{}.With("k", nil)},
	}
	for name, v := range map[string]any{
		"struct": value, "slice": []outer{value, {}}, "anonymous": struct {
			Groups []outer `json:"groups"`
		}{[]outer{value}},
		"embedded": struct {
			embedded
			B int `json:"b"`
		}{embedded{1}, 2},
		"nil": nil, "list": list, "pointer": &value, "number": 7, "object": Object{}.With("z", 1).With("a", value),
	} {
		var want, got bytes.Buffer
		e := json.NewEncoder(&want)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(v); err != nil {
			t.Fatal(err)
		}
		if err := WriteJSON(&got, v); err != nil || got.String() != want.String() {
			t.Errorf("%s: %v\n%s\nwant\n%s", name, err, got.String(), want.String())
		}
	}
	if err := WriteJSON(&bytes.Buffer{}, struct {
		V float64 `json:"v"`
	}{math.NaN()}); err == nil {
		t.Error("no number is written")
	}
}

// What steers a terminal is written by its number in JSON, and read as it was.
func TestWriteJSONSteersNothing(t *testing.T) {
	texts := []string{"a\u202eb", "a\u200bb", "a\x7fb", "a\u009b31mb", "a\x1b[31mb", "a\U000e0041b", "a\u2028b", "電池 <&> é"}
	var b bytes.Buffer
	if err := WriteJSON(&b, struct {
		Texts []string          `json:"texts"`
		Keyed map[string]string `json:"keyed"`
	}{texts, map[string]string{"a\u202e": "\ufeff"}}); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsFunc(strings.ReplaceAll(b.String(), "\n", ""), words.Steers) || !strings.Contains(b.String(), "電池 <&> é") {
		t.Errorf("%q", b.String())
	}
	var back struct {
		Texts []string
		Keyed map[string]string
	}
	if err := json.Unmarshal(b.Bytes(), &back); err != nil || !slices.Equal(back.Texts, texts) || back.Keyed["a\u202e"] != "\ufeff" {
		t.Errorf("%v: %q", err, back)
	}
}
