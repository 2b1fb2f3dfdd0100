package draw

import "image/color"

// ink is what a mark is, not its colour: the style sheet of a page gives it one, or a theme in a PNG.
type ink uint8

// The inks. Series differ in hue and in lightness, so that they stay apart in grey and for colour-blind readers; lines
// differ in their dashes, too.
const (
	inkGround ink = iota
	inkText
	inkMuted // second in rank: axis labels, notes
	inkAxis
	inkGrid
	inkBand  // bands and whiskers
	inkLimit // what may not be passed
	inkKept  // what is kept back
	inkPart  // parts of a sum, by turns
	inkPart2
	inkPart3
	inkGroup // behind points that belong together
	inkQuiet // points and curves behind the named ones
	inkOne   // series
	inkTwo
	inkThree
	inkFour
	inkFive
	inkSix
	inkCount
)

// series is the ink of the i-th series.
func series(i int) ink { return inkOne + ink(i%int(inkCount-inkOne)) }

// forText is the ink that a mark's own text is written in: one that can be read.
func (i ink) forText() ink {
	switch i {
	case inkQuiet, inkBand, inkAxis, inkGrid:
		return inkMuted
	case inkPart3:
		return inkOne
	}
	return i
}

// class is the ink's name in a style sheet.
func (i ink) class() string {
	return [inkCount]string{
		"ground", "text", "muted", "axis", "grid", "band", "limit", "kept", "part", "part2", "part3", "group", "quiet",
		"one", "two", "three", "four", "five", "six",
	}[i]
}

// RGBA is the ink in the light theme.
func (i ink) RGBA() (r, g, b, a uint32) { return rgb(light[i]).RGBA() }

// A Theme gives every ink a colour.
type Theme uint8

// The themes.
const (
	Light Theme = iota
	Dark
)

func (t Theme) colour(i ink) color.RGBA {
	if t == Dark {
		return rgb(dark[i])
	}
	return rgb(light[i])
}

func rgb(v uint32) color.RGBA {
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}

// Colours of the themes as 0xRRGGBB. All that text is written in has a contrast of at least 4.5:1 with the ground.
var (
	light = [inkCount]uint32{
		inkGround: 0xfcfcfa, inkText: 0x1b1f24, inkMuted: 0x57606b, inkAxis: 0x8b939d, inkGrid: 0xe6e8ea,
		inkBand: 0xccd2d8, inkLimit: 0xa3271f, inkKept: 0xf0c9b8, inkPart: 0xb9c6d4, inkPart2: 0xd5dde5, inkPart3: 0x6f94ba,
		inkGroup: 0xd3e3f4, inkQuiet: 0x9aa4af,
		inkOne: 0x1a5a9e, inkTwo: 0xa3450b, inkThree: 0x08705a, inkFour: 0x8a2b74, inkFive: 0x5d5b04, inkSix: 0x3f4650,
	}
	dark = [inkCount]uint32{
		inkGround: 0x14181d, inkText: 0xe8eaed, inkMuted: 0xa3acb7, inkAxis: 0x6c7681, inkGrid: 0x272d34,
		inkBand: 0x3d4650, inkLimit: 0xff8a7d, inkKept: 0x5a322a, inkPart: 0x3f4f60, inkPart2: 0x2d3945, inkPart3: 0x37628f,
		inkGroup: 0x22384f, inkQuiet: 0x66707b,
		inkOne: 0x7cb5f2, inkTwo: 0xf2a35e, inkThree: 0x5fcdb0, inkFour: 0xe092cd, inkFive: 0xd6cf6a, inkSix: 0xc3cad2,
	}
)

// dashes tell lines apart without their colour.
func dashes(i int) []float64 {
	return [][]float64{nil, {7, 3}, {2, 2.5}, {9, 3, 2, 3}, {4, 2}, {1, 3}}[i%6]
}
