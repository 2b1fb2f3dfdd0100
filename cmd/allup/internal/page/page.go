// Package page writes an answer as one HTML file: words, drawings and tables, with style and script inside it. It asks
// for nothing from any network, and reads without its script, which sorts tables, lets rows and marks point at each
// other, and keeps a live page up to date.
//
// Everything in a [Page] is data: html/template escapes it for the place where it stands.
package page

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
)

//go:embed page.html page.css page.js
var assets embed.FS

// Page is an answer to look at.
type Page struct {
	Title    string
	Verdict  []string // the first says the whole answer
	Sections []Section
	Made     []string // when, by what, from what
	Live     string   // which answer this is, on a page that is served and follows its files; "" on others
}

// Add puts notes before those of a section.
func (p *Page) Add(section string, notes []string) {
	for i := range p.Sections {
		if s := &p.Sections[i]; s.ID == section {
			s.Notes = append(append([]string{}, notes...), s.Notes...)
		}
	}
}

// Section is a part of a page under a heading of its own.
type Section struct {
	ID, Title string
	Lead      []string
	Drawings  []*draw.Drawing // nil ones are left out
	Tables    []Table
	Notes     []string
	Source    string // a file as it was given
	Part      bool   // of the section before it: a smaller heading, and not among the links
}

// Table is a table of an answer, which a reader may sort.
type Table struct {
	ID, Caption string
	*sheet.Table
	Subject string // key of the column with the ids that drawings have marks of; "" for none
}

// row is a row in the page.
type row struct {
	ID    string
	Cells []cell
}

type cell struct {
	sheet.Cell
	Class string
}

// Lines are the rows for the page.
func (t Table) Lines() []row {
	out := make([]row, len(t.Rows))
	for i, r := range t.Rows {
		for j, c := range r {
			k := t.Columns[j]
			if t.Subject != "" && k.Key == t.Subject {
				out[i].ID = c.Text
			}
			out[i].Cells = append(out[i].Cells, cell{c, t.Class(k)})
		}
	}
	return out
}

// leastKept is from where on a column is left out on a phone.
const leastKept = 12

// Class is a column's in the style sheet.
func (t Table) Class(c sheet.Column) string {
	var list []string
	for _, k := range []struct {
		has  bool
		name string
	}{{c.Left, "text"}, {c.Wrap, "long"}, {t.Subject != "" && c.Key == t.Subject, "key"}, {c.Keep >= leastKept, "spare"}} {
		if k.has {
			list = append(list, k.name)
		}
	}
	return strings.Join(list, " ")
}

// widths that a drawing is laid out for: a page's, and a phone's.
const (
	wideWidth  = 760
	phoneWidth = 343
)

// picture is a drawing in the page.
type picture struct{ Wide, Phone template.HTML }

// HTML writes the page.
func (p *Page) HTML(w io.Writer) error {
	style, script, err := p.assets()
	if err != nil {
		return err
	}
	pictures := 0
	functions := template.FuncMap{
		// What draw writes is mark-up whose texts it has escaped itself.
		"pictures": func(list []*draw.Drawing) (out []picture) {
			for _, d := range list {
				if d != nil {
					pictures++
					id := fmt.Sprintf("drawing-%d", pictures)
					out = append(out, picture{template.HTML(d.SVG(d.At(wideWidth), id)), template.HTML(d.SVG(d.At(phoneWidth), id+"-phone"))})
				}
			}
			return out
		},
		"whole": draw.Unbroken, // no line parts them at a hyphen
	}
	t, err := template.New("page.html").Funcs(functions).ParseFS(assets, "page.html")
	if err != nil {
		return err
	}
	return t.Execute(w, struct {
		*Page
		Policy string
		Style  template.CSS
		Script template.JS
	}{p, policy(style, script, p.Live != ""), template.CSS(style), template.JS(script)})
}

// assets are the page's style sheet, with the colours of drawings, and its script.
func (p *Page) assets() (style, script string, err error) {
	css, err := assets.ReadFile("page.css")
	if err != nil {
		return "", "", err
	}
	js, err := assets.ReadFile("page.js")
	if err != nil {
		return "", "", err
	}
	style = ":root{" + draw.Variables(draw.Light) + "}@media screen and (prefers-color-scheme:dark){:root{" + draw.Variables(draw.Dark) + "}}" +
		draw.Rules() + string(css)
	return style, string(js), nil
}

// policy lets the page's own style and script work and nothing else, whatever a name in a file says.
func policy(style, script string, live bool) string {
	of := func(s string) string {
		sum := sha256.Sum256([]byte(s))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	text := "default-src 'none'; img-src data:; style-src " + of(style) + "; script-src " + of(script) + "; base-uri 'none'; form-action 'none'"
	if live {
		text += "; connect-src 'self'"
	}
	return text
}
