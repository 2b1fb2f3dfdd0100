package model

// TracePoint is a moment of a test: rows or the mean of a few.
type TracePoint struct {
	Time      Time // from load on
	Voltage   Voltage
	Current   Current
	Delivered Charge // from load on
}

// Trace is a test under load from a full pack, thinned to at most about a thousand points.
type Trace struct {
	Rest   Voltage // mean before the load; 0 where the log begins under load
	Points []TracePoint
	// End is the moment at which a discharge met its end voltage; zero where there is none, as in a burst.
	End TracePoint
}
