package main

import (
	"runtime/debug"
	"strings"
)

// version is what the program was built from, as far as it knows.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	return versionOf(info)
}

func versionOf(info *debug.BuildInfo) string {
	setting := map[string]string{}
	for _, s := range info.Settings {
		setting[s.Key] = s.Value
	}
	text := info.Main.Version
	if text == "" {
		text = "(devel)"
	}
	var from []string
	if r := setting["vcs.revision"]; r != "" {
		from = append(from, "revision "+r[:min(12, len(r))])
	}
	if t := setting["vcs.time"]; t != "" {
		from = append(from, t)
	}
	if setting["vcs.modified"] == "true" {
		from = append(from, "changed since")
	}
	return strings.Join(append(append([]string{text}, from...), info.GoVersion), ", ")
}
