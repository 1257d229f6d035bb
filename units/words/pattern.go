package words

import (
	"regexp"
	"sync"
)

// Pattern is a regular expression that is compiled when it is first used. Most
// runs use few of the program's patterns, and to compile all of them took a
// millisecond of each start. Not inlined, or each pattern would have a copy of it.
//
//go:noinline
func Pattern(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}
