package page_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"regexp"
	"strings"
	"testing"

	"allup/cmd/allup/internal/page"
	"allup/cmd/allup/internal/sheet"
)

func html(t *testing.T, p *page.Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func demo(text string) *page.Page {
	table := &sheet.Table{Columns: []sheet.Column{{Head: "pack", Key: "pack", Left: true}, {Head: "g", Key: "g"}, {Head: text, Key: "why", Left: true, Wrap: true}}}
	table.Add(sheet.Word(text), sheet.Number(12.34567, 1), sheet.Word(text))
	table.Add(sheet.Word("b"), sheet.Unknown(), sheet.Word("x"))
	return &page.Page{
		Title: text, Verdict: []string{text, text}, Made: []string{text},
		Sections: []page.Section{{
			ID: "one", Title: text, Lead: []string{text}, Notes: []string{text}, Source: text,
			Tables: []page.Table{{ID: "t", Caption: text, Table: table, Subject: "pack"}},
		}},
	}
}

// Whatever text a page is given stays text.
func TestTextIsData(t *testing.T) {
	for _, text := range []string{`</script><script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `</style><b>`, "' onfocus='alert(1)", "{{.}}", "<!--", "]]>"} {
		got := html(t, demo(text))
		plain := html(t, demo("plain"))
		for _, mark := range []string{"<script", "<img", "<style", "<b>", "<!--", "onerror=alert(1)>", "<td", "<tr"} {
			if n, want := strings.Count(got, mark), strings.Count(plain, mark); n != want {
				t.Errorf("%q makes %d of %s, plain text %d", text, n, mark, want)
			}
		}
	}
}

// The policy of a page lets its own style and script work, and nothing else.
func TestPolicyHoldsOwnCode(t *testing.T) {
	got := html(t, demo("plain"))
	policy := regexp.MustCompile(`http-equiv="Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(got)[1]
	for _, kind := range []string{"style", "script"} {
		body := regexp.MustCompile(`(?s)<` + kind + `>(.*?)</` + kind + `>`).FindStringSubmatch(got)[1]
		sum := sha256.Sum256([]byte(body))
		want := "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
		if !strings.Contains(strings.ReplaceAll(policy, "&#43;", "+"), want) {
			t.Errorf("policy %s has not %s of the %s", policy, want, kind)
		}
	}
	if !strings.Contains(policy, "default-src &#39;none&#39;") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "connect-src") {
		t.Errorf("policy is %s", policy)
	}
	live := demo("plain")
	live.Live = "1"
	if !strings.Contains(html(t, live), "connect-src &#39;self&#39;") {
		t.Error("a live page may not ask its own server")
	}
	for _, never := range []string{"http://", "https://", "src=", "@import", "url("} {
		if strings.Contains(strings.ReplaceAll(got, "http://www.w3.org/2000/svg", ""), never) {
			t.Errorf("the page has %s: it may name no other place", never)
		}
	}
}

// Rows carry their subject, numbers the value that they sort by.
func TestRows(t *testing.T) {
	got := html(t, demo("plain"))
	for _, want := range []string{`<tr data-id="plain" tabindex="-1">`, `<td data-v="12.34567">12.3</td>`, `<td>-</td>`, `<th scope="col" class="text key">pack</th>`} {
		if !strings.Contains(got, want) {
			t.Errorf("page has not %s", want)
		}
	}
}
