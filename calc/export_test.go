package calc

// Parts gives the two parts of what a gauge may be off by at a reading, SI, k = 2: what all
// its readings share, and each reading's own. Both are 0 where nothing is known.
func (g *Gauge) Parts(reading float64) (shared, own float64) {
	if g == nil || g.offset == nil {
		return 0, 0
	}
	return (&gauged{Gauge: g}).wholeSpread(0, reading), g.own
}
