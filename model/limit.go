package model

// Limit is a greatest mass with its comparison: inclusive means that a mass equal
// to it passes.
type Limit struct {
	Mass      Mass
	Inclusive bool
}

// massGrain is the difference below which two masses are the same: a nanogram is
// far below any scale and far above what adding floats can leave behind, so that
// a build of parts that add up to 250 g on paper is at 250 g here.
const massGrain Mass = 1e-12

// Allows reports whether a mass passes the limit.
func (l Limit) Allows(m Mass) bool {
	if l.Inclusive {
		return m <= l.Mass+massGrain
	}
	return m < l.Mass-massGrain
}

// At reports whether a mass is the limit's own, which the comparison decides.
func (l Limit) At(m Mass) bool { return m >= l.Mass-massGrain && m <= l.Mass+massGrain }

// Stricter reports whether l lets through less than other.
func (l Limit) Stricter(other Limit) bool {
	if d := l.Mass - other.Mass; d < -massGrain || d > massGrain {
		return d < 0
	}
	return !l.Inclusive && other.Inclusive
}

// Threshold is a published take-off-mass threshold, with unit and comparison as
// published. It is a fact about a rule's text, not advice, and rules change.
type Threshold struct {
	ID         string
	Where      string
	Instrument string
	Published  string // the comparison as its text has it, "< 250 g"
	Limit      *Limit // nil where no threshold was found
	Counts     string // the mass that counts
	Relieves   string // what a lighter aircraft is relieved of, and the catch
	Source     string // "official text", "a secondary source" or "memory"
}

// Thresholds lists the thresholds in a fixed order, as read in 2026.
func Thresholds() []Threshold {
	const official, secondary, memory = "official text", "a secondary source", "memory"
	under250 := &Limit{Mass: 250 * Gram}
	upTo250 := &Limit{Mass: 250 * Gram, Inclusive: true}
	under100 := &Limit{Mass: 100 * Gram}
	upTo055lb := &Limit{Mass: 0.55 * Pound, Inclusive: true}
	return []Threshold{
		{
			"eu-a1-built", "EU, home-built", "Impl. Reg. (EU) 2019/947, Annex, UAS.OPEN.020(5)(a)",
			"< 250 g", under250, "MTOM including payload, set by the builder",
			"subcategory A1, when the greatest speed is also below 19 m/s; operator registration still applies with a camera, or when an impact can transfer more than 80 J (Art. 14(5)): 250 g at 25.3 m/s",
			official,
		},
		{
			"eu-c0", "EU, class C0 product", "Del. Reg. (EU) 2019/945, Annex, Part 1(1)",
			"< 250 g", under250, "MTOM including payload", "class mark; not for home-built aircraft", secondary,
		},
		{
			"us-recreational", "United States", "14 CFR 48.15(b)",
			"<= 0.55 lb", upTo055lb, "take-off, everything on board or attached",
			"registration, only when flown exclusively under 49 USC 44809; otherwise registered at any mass", official,
		},
		{
			"us-over-people-1", "United States", "14 CFR 107.110(a)",
			"<= 0.55 lb", upTo055lb, "everything attached, on take-off and throughout the flight",
			"category 1 over people; also no exposed rotating parts that would lacerate", official,
		},
		{
			"uk-a1", "United Kingdom, from 2026-01-01", "UK Reg. 2019/947 UAS.OPEN.020; CAA code",
			"< 250 g", under250, "MTOM",
			"A1; Operator ID not needed without a camera; the home-built clause was not read", official,
		},
		{
			"uk-100", "United Kingdom, from 2026-01-01", "UK Reg. 2019/947 UAS.OPEN.020(4), CAA code",
			"< 100 g", under100, "MTOM", "Flyer ID; Operator ID with a camera", official,
		},
		{
			"ca-micro", "Canada, from 2025-04-01", "CARs 900.01, 900.13",
			"< 250 g", under250, "operating weight at any point of the flight, payload and safety equipment included",
			"registration, pilot certificate; 900.06 still applies", official,
		},
		{
			"ch-a1", "Switzerland, from 2023-01-01", "EU rules as adopted, FOCA",
			"< 250 g", under250, "flying weight", "A1; registration with a camera", official,
		},
		{
			"jp-100", "Japan, from 2022-06-20", "Civil Aeronautics Act, MLIT guidance",
			"< 100 g", under100, "body and battery", "registration, Remote ID, permits", secondary,
		},
		{
			"au-micro", "Australia", "CASR Part 101, micro",
			"<= 250 g", upTo250, "gross weight", "pilot licence for business use; registration still applies for business", official,
		},
		{
			"in-nano", "India", "Drone Rules 2021, nano",
			"<= 250 g", upTo250, "all-up including payload", "type certificate, pilot licence; not registration", secondary,
		},
		{
			"hk-a1", "Hong Kong", "Cap. 448G, category A1",
			"<= 250 g", upTo250, "weight throughout the flight", "registration, labelling", official,
		},
		{
			"sg-250", "Singapore", "Air Navigation (101) Regulations 2019",
			"<= 250 g", upTo250, "total mass", "registration, broadcast identification", official,
		},
		{
			"br-250", "Brazil", "RBAC-E 94",
			"<= 250 g", upTo250, "take-off weight including load", "registration (a newer rule may replace it)", memory,
		},
		{
			"nz", "New Zealand", "CAR Part 101",
			"no low threshold found", nil, "", "the rules apply at any mass", official,
		},
	}
}

// StrictestOf is the threshold that lets through least; ok is false where none of
// them has a limit. Equally strict ones keep the first.
func StrictestOf(thresholds []Threshold) (strictest Threshold, ok bool) {
	for _, t := range thresholds {
		if t.Limit != nil && (!ok || t.Limit.Stricter(*strictest.Limit)) {
			strictest, ok = t, true
		}
	}
	return strictest, ok
}
