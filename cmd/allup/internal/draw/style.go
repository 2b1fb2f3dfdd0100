package draw

import (
	"fmt"
	"strings"
)

// Variables is a theme as custom properties of a style sheet, one for each ink.
func Variables(t Theme) string {
	var b strings.Builder
	for i := range inkCount {
		c := t.colour(i)
		fmt.Fprintf(&b, "--%s:#%02x%02x%02x;", i.class(), c.R, c.G, c.B)
	}
	return b.String()
}

// Rules are what a style sheet needs for drawings, beside the variables of a theme: f is filled, k is stroked.
func Rules() string {
	var b strings.Builder
	b.WriteString(`svg.drawing{font-family:"Liberation Sans",Arial,Helvetica,sans-serif;background:var(--ground)}` +
		`svg.drawing .f{fill:currentColor;stroke:none}svg.drawing .k{fill:none;stroke:currentColor}` +
		`svg.drawing .o{fill:var(--ground);stroke:currentColor}svg.drawing text{fill:currentColor}svg.drawing .b{font-weight:bold}` +
		`svg.drawing .r{paint-order:stroke;stroke:var(--ground);stroke-width:3.2px;stroke-linejoin:round}`)
	for i := range inkCount {
		fmt.Fprintf(&b, "svg.drawing .%s{color:var(--%s)}", i.class(), i.class())
	}
	return b.String()
}

// standalone is the style sheet of a drawing in a file of its own, which follows its reader's light or dark.
func standalone() string {
	return "svg.drawing{" + Variables(Light) + "}@media(prefers-color-scheme:dark){svg.drawing{" + Variables(Dark) + "}}" + Rules()
}
