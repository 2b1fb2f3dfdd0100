package catalog

import (
	_ "embed"
	"slices"
)

//go:embed starter.toml
var starter string

// Starter is a build file with comments that can be read against the built-in
// catalogue as it is.
func Starter() []byte { return slices.Clone([]byte(starter)) }
