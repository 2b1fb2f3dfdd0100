package draw

import (
	"strings"

	"allup/model"
	"allup/model/words"
)

// FileName makes a file name, without its ending, of what is in a file and of ids: lower-case letters, digits,
// points, underlines and hyphens, never a path, never hidden, never longer than a file system takes.
func FileName(kind string, of ...string) string {
	const most = 120
	text := strings.ToLower(strings.Join(append([]string{kind}, of...), "-"))
	var b strings.Builder
	for _, r := range text {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '_', r == '.' && b.Len() > 0 && !strings.ContainsAny(b.String()[b.Len()-1:], ".-"):
			b.WriteRune(r)
		case b.Len() > 0 && r != '.' && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String()[:min(b.Len(), most)], "-._")
}

func minutes(t model.Time) string { return words.Fixed(t.Minutes(), 1) + " min" }

// limit is a limit without needless zeros.
func limit(m model.Mass) string { return words.Trimmed(m.Grams(), 2) + " g" }
