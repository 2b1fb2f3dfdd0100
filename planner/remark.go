package planner

import (
	"fmt"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Remark is a reason against a part, or a warning about a figure.
type Remark struct {
	Code    Code
	Subject string // the id that it is about, "" for the build
	Text    string // for people, without the subject's name
}

// Code names a kind of remark. Codes are stable; texts are not.
type Code string

// Warnings about figures.
const (
	LabelOnly        Code = "label-only"       // nobody tested the pack
	Doubtful         Code = "doubtful"         // the tested metrics contradict each other, or the label
	Unusual          Code = "unusual"          // the tests go together only if something of the pack is not as usual
	PunchCurrent     Code = "punch-current"    // punch-out draws more than the pack's stated steady limit
	ThrottleBound    Code = "throttle-bound"   // full throttle stops holding the hover before landing
	NoPrice          Code = "no-price"         // the goal weighs price, and the pack has none that compares
	NoCurrency       Code = "no-currency"      // the goal weighs price, and the build does not say in which currency
	SeveralCandidate Code = "candidates"       // a slot lists several parts; the first is taken
	MotorEstimated   Code = "motor-estimated"  // no resistance or no-load current
	PropEstimated    Code = "prop-estimated"   // coefficients from size alone
	BoardEstimated   Code = "board-estimated"  // controller efficiency assumed
	LossAssumed      Code = "no-thrust-loss"   // the frame states no thrust loss
	MaybeOver        Code = "maybe-over"       // under the limit on paper, but not surely
	TestUnused       Code = "thrust-test"      // a thrust test gave way to better knowledge; for a refused one see model.Refusal
	PackTemperature  Code = "pack-temperature" // the packs' resistance is not known at this temperature
	HoverScatter     Code = "hover-scatter"    // flown hovers do not agree with each other
	HoverOther       Code = "hover-other"      // flown hovers are of other rotors than these
	ScaleDisagrees   Code = "scale"            // a scale shows what the list of masses does not explain
	LowLanding       Code = "low-landing"      // the build lands below what cells bear
	LowTestEnd       Code = "low-test-end"     // a bench test ended below what cells bear
	PunchDip         Code = "punch-dip"        // full throttle pulls the pack below what cells bear
	HotPack          Code = "hot-pack"         // the pack warms itself to more than packs bear
	HoverThrottle    Code = "hover-throttle"   // outside what flies well
	TipMach          Code = "tip-mach"         // propeller tips near the speed of sound
)

func remark(code Code, subject, format string, args ...any) Remark {
	return Remark{Code: code, Subject: subject, Text: fmt.Sprintf(format, args...)}
}

func boxText(b catalog.Box) string {
	return fmt.Sprintf("%s x %s x %s mm", words.Trimmed(b.L.Millimetres(), 1), words.Trimmed(b.W.Millimetres(), 1), words.Trimmed(b.H.Millimetres(), 1))
}

func cellsText(r catalog.CellRange) string {
	if r.Min == r.Max {
		return fmt.Sprint(r.Min)
	}
	return fmt.Sprintf("%d to %d", r.Min, r.Max)
}

// LimitText is a limit in words: "250 g (below)" or "249.5 g (at most)".
func LimitText(l model.Limit) string {
	if l.Inclusive {
		return "at most " + words.Trimmed(l.Mass.Grams(), 2) + " g"
	}
	return "below " + words.Trimmed(l.Mass.Grams(), 2) + " g"
}
