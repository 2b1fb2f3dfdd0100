package main

import (
	"bytes"
	"encoding/json"
	"io"
	"regexp"
	"strings"
	"testing"
)

// texts hands over all strings of an answer in JSON, each with where it stands.
func texts(v any, at string, found func(at, text string)) {
	switch v := v.(type) {
	case string:
		found(at, v)
	case []any:
		for _, e := range v {
			texts(e, at+"[]", found)
		}
	case map[string]any:
		for key, e := range v {
			texts(e, at+"."+key, found)
		}
	}
}

// TestChancesInWords: no text of any answer, in JSON or in Markdown, has a number with an exponent, as a chance
// of 4.5e-46 would; one that is that small is said in words.
func TestChancesInWords(t *testing.T) {
	t.Chdir(repository(t))
	exponent := regexp.MustCompile(`\d[eE][-+]?\d`)
	const stint = "testdata/builds/stint.toml"
	asText, inWords := 0, 0
	for _, args := range [][]string{
		{"weigh", stint},
		{"weigh", stint, "--sure", "95%"},
		{"weigh", stint, "--why"},
		{"weigh", stint, "--all-limits"},
		{"weigh", "testdata/builds/plover.toml"},
		{"weigh", "testdata/builds/dunlin.toml"},
		{"weigh", "testdata/builds/curlew.toml"},
		{"rank", stint, "--sure", "95%"},
		{"rank", stint, "--why", "sedge-650"},
		{"rank", "testdata/builds/plover.toml"},
		{"rank", "testdata/builds/dunlin.toml"},
		{"rank", "testdata/builds/curlew.toml"},
		{"swap", stint, "pack=sedge-550"},
		{"swap", stint, "pack=sedge-550", "--why"},
		{"swap", stint, "prop=reed-35x22-2", "--sure", "99%"},
		{"swap", stint, "with=brick:100g"},
		{"swap", stint, "--suggest"},
		{"size", stint},
		{"search", stint, "--any", "prop"},
		{"reduce", "testdata/bench/bench.toml"},
		{"field"},
		{"parts"},
		{"limits"},
	} {
		check := func(at, text string) {
			if exponent.MatchString(text) {
				t.Errorf("%v: %s says %q", args, at, text)
			}
			if strings.Contains(text, "chance of ") {
				asText++
			}
			if strings.Contains(text, "under 1 in a million") {
				inWords++
			}
		}
		said := tell(t, 0, "", append(args, "--format", "json")...)
		answers := 0
		for d := json.NewDecoder(bytes.NewBufferString(said.Out)); ; answers++ {
			var v any
			if err := d.Decode(&v); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%v: %v\n%s", args, err, said.Err)
			}
			texts(v, "", check)
		}
		if answers == 0 {
			t.Errorf("%v: nothing said\n%s", args, said.Err)
		}
		for line := range strings.Lines(tell(t, 0, "", append(args, "--format", "markdown")...).Out) {
			check("Markdown", line)
		}
	}
	if asText == 0 || inWords == 0 {
		t.Errorf("%d texts with a chance, %d with one under 1 in a million: want some of both", asText, inWords)
	}
}
