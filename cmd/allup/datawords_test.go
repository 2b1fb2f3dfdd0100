package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestWordsOfData compares every word that programs read, in JSON and in CSV, with golden files: what the tests of
// values do not work out anew. Numbers are theirs.
func TestWordsOfData(t *testing.T) {
	t.Chdir(repository(t))
	commands := map[string][]string{
		"weigh":   {"weigh", "testdata/builds/dunlin.toml", "--all-limits"},
		"swap":    {"swap", "testdata/builds/curlew.toml", "pack=yarrow-520-flat", "prop=fen-35x28-2", "with=camera:12.5g"},
		"parts":   {"parts"},
		"part":    {"parts", "sedge-650"},
		"test":    {"parts", "wick-reed"},
		"limits":  {"limits"},
		"field":   {"field"},
		"size":    {"size", "testdata/builds/stint.toml"},
		"reduce":  {"reduce", "testdata/bench/bench.toml"},
		"search":  {"search", "testdata/builds/stint.toml", "--any", "motor,prop", "--top", "3"},
		"suggest": {"swap", "testdata/builds/plover.toml", "--suggest"},
		"why":     {"rank", "testdata/builds/stint.toml", "--why", "sedge-650"},
	}
	for _, build := range []string{"curlew", "plover"} {
		commands["rank-"+build] = []string{"rank", "testdata/builds/" + build + ".toml", "--quick"}
	}
	for name, args := range commands {
		t.Run(name, func(t *testing.T) {
			var lines []string
			said := values{}
			said.put("json ", askJSON(t, "", args...))
			for n, row := range askCSV(t, "", args...) {
				said.put(fmt.Sprintf("csv %d ", n), row)
			}
			for path, v := range said {
				if word, is := v.(string); is {
					lines = append(lines, path+": "+strings.ReplaceAll(word, "\n", `\n`))
				}
			}
			slices.Sort(lines)
			golden(t, filepath.Join("testdata", "words", name+".txt"), strings.Join(lines, "\n")+"\n")
		})
	}
}

// TestWrittenRecords compares the words of the records that a bench is reduced to, and their comments, with a golden
// file.
func TestWrittenRecords(t *testing.T) {
	t.Chdir(repository(t))
	file := filepath.Join(t.TempDir(), "records.toml")
	tell(t, 0, "", "reduce", "testdata/bench/bench.toml", "--records", file)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var words strings.Builder
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") || strings.Contains(line, `"`) || strings.HasPrefix(line, "[") {
			words.WriteString(line)
		}
	}
	golden(t, filepath.Join("testdata", "words", "records.txt"), words.String())
}
