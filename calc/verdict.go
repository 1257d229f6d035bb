package calc

// Verdict is the judgement of a value against its limits. The order is the
// order of concern: the verdict of a case is the worst of its values.
type Verdict uint8

const (
	NoVerdict Verdict = iota // nothing is judged: no limit, nothing missing
	Pass
	Open   // something the value needs is missing
	Unsure // the interval value ± spread reaches over a limit
	Fail
)

// String gives the word that every output prints, "" for NoVerdict.
//
//go:noinline
func (v Verdict) String() string {
	return [...]string{"", "pass", "open", "unsure", "fail"}[v]
}
