package report

// ReadingGuide explains the words of a report to those who were not there.
var ReadingGuide = []string{
	"± is the spread: the true value lies within it about 95 times in 100 (coverage factor 2). " +
		"It is computed from the spreads of the givens and of the gauges; " +
		"sampled, where it stands, is the same interval found by trying many values of them.",
	"pass: the whole of value ± spread is inside its limits. fail: the whole of it is beyond a limit. " +
		"unsure: it reaches over a limit, so that a better reading is needed. " +
		"open: something is missing that has to be measured first.",
	"Where there is a reading, it is judged in place of the computed value. " +
		"E_n compares the two: up to 1 they agree within their spreads.",
}
