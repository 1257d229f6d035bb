package sheets

import (
	"fmt"
	"strings"
	"testing"
)

func TestChanges(t *testing.T) {
	for _, test := range []struct{ was, is, want string }{
		{"name,entry\na,1\n", "name,entry\na,1\n", ""},
		{"name,entry\na,1\n", "\ufeff# new\n\nname,entry\r\na,1\r\n", ""},
		{"name,entry\na,1\nb,2\n", "name,entry\nb,2\na,1\n", ""},
		{"name,entry,unit\na,1,m\n", "name,unit,entry\na,m,2\n", "a: 1 -> 2 at 2"},
		{"name,entry,reading\na,1,\n", "name,entry,reading\na,1,3\n", "a.reading:  -> 3 at 2"},
		{"item,x\n:unit,m\nk,1\n", "item,x\n:unit,mm\nk,1\n", "s[:unit].x: m -> mm at 2"},
		{"item,x\nk,1\nk,2\n", "item,x\nk,1\nk,3\n", "s[k (2)].x: 2 -> 3 at 3"},
		{"item,x\nk,1\n", "item,x\nl,1\n", "s[l]:  -> a new row at 2; s[k]: a row -> gone at 0"},
		{"item,x,y\nk,1,2\n", "item,x\nk,1\n", "s[k].y: 2 ->  at 2"},
		{"item,x\nk,1\n", "item,x\nk,1,7\n", "s[k].column 3:  -> 7 at 2"},
		{"item,x\nk,\"a\nb\"\n", "item,x\nk,\"a\nc\"\n", "s[k].x: a\nb -> a\nc at 2"},
	} {
		changes, err := Changes("s", test.was, test.is)
		var got []string
		for _, c := range changes {
			got = append(got, fmt.Sprintf("%s: %s -> %s at %d", c.What, c.Was, c.Is, c.Line))
		}
		if err != nil || strings.Join(got, "; ") != test.want {
			t.Errorf("%q to %q: %q, %v, want %q", test.was, test.is, strings.Join(got, "; "), err, test.want)
		}
	}
}
