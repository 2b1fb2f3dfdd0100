package draw

import (
	"fmt"
	"strconv"
	"strings"

	"allup/model"
)

// name makes a file name of what a drawing shows and of ids: lower-case letters, digits, points, underlines and
// hyphens, never a path, never hidden, never longer than a file system takes.
func name(kind string, of ...string) string {
	const most = 120
	text := strings.ToLower(strings.Join(append([]string{kind}, of...), "-"))
	var b strings.Builder
	for _, r := range text {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '_', r == '.' && !strings.HasSuffix(b.String(), "."):
			b.WriteRune(r)
		case b.Len() > 0 && r != '.' && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String()[:min(b.Len(), most)], "-._")
}

func fixed(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if text == "-"+strconv.FormatFloat(0, 'f', digits, 64) {
		return text[1:]
	}
	return text
}

func grams(m model.Mass) string {
	digits := 1
	if g := m.Grams(); g > -0.95 && g < 0.95 {
		digits = 2
	}
	return fixed(m.Grams(), digits) + " g"
}

func minutes(t model.Time) string { return fixed(t.Minutes(), 1) + " min" }

// limit is a limit without needless zeros.
func limit(m model.Mass) string {
	return strconv.FormatFloat(float64(int64(m.Grams()*100+0.5))/100, 'f', -1, 64) + " g"
}

// listed joins words as a person would.
func listed(words []string, last string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " " + last + " " + words[n-1]
	}
	return strings.Join(words, "")
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
