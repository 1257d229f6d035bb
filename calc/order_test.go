package calc

import (
	"fmt"
	"strings"
	"testing"
)

// TestLoopFoundFromOutside: the way into a loop is not part of it, a loop is
// told from its first row, and a long one is cut short.
func TestLoopFoundFromOutside(t *testing.T) {
	var long strings.Builder
	long.WriteString("name,entry\nuser,=c\nsecond,=user\nb,=a*2\nc,=b\na,=c + 1\n")
	for i := range 20 {
		fmt.Fprintf(&long, "q%d,=q%d\n", i, (i+1)%20)
	}
	_, problems := Compile(files(t, "a.csv", long.String()), Options{})
	want := "a.csv:4:4: the formulas go round in a loop: b <- a <- c <- b (" + loopHint + ")\n" +
		"a.csv:7:5: the formulas go round in a loop: q0 <- q1 <- q2 <- q3 <- q4 <- q5 <- q6 <- q7 <- q8 <- q9 <- q10 " +
		"<- q11 <- ... <- q0 (" + loopHint + ")"
	if got := withHints(problems); got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}

// TestOrderKeepsToTheSheets: a quantity comes after those it uses, and else
// where it stands.
func TestOrderKeepsToTheSheets(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry\nlast,=middle + first\nfree,2\nmiddle,=first*free\n", "b.csv",
		"name,entry\nfirst,3\nother,=1 + 1\n")
	var names []string
	for _, q := range m.order {
		names = append(names, q.Name)
	}
	if got, want := strings.Join(names, " "), "free first other middle last"; got != want {
		t.Errorf("the order is %s, expected %s", got, want)
	}
}
