package planner

// Made is how many packs of a set have been made.
func Made(s *PackSet) int { return len(s.made) }
