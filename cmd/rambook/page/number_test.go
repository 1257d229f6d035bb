package page

import (
	"math"
	"testing"
)

var nan = math.NaN()

func TestNumberStyle(t *testing.T) {
	usual := NumberStyle{}
	for _, tc := range []struct {
		got, want string
	}{
		{usual.Computed(981.7477, nan), "981.7"},
		{usual.Computed(0, nan), "0"},
		{usual.Computed(-0.00001, 0.1), "0.00"},
		{usual.Computed(9.99996, nan), "10.00"},
		{usual.Computed(1234567.8, nan), "1234568"},
		{usual.Computed(12345678, nan), "1.235e7"},
		{usual.Computed(0.000012345, nan), "1.234e-5"},
		{usual.Computed(-0.000012345, nan), "-1.234e-5"},
		{usual.Computed(nan, nan), ""},
		{usual.Computed(981.7477, 12.34), "982"},
		{usual.Computed(981.7477, 0.0996), "981.75"},
		{usual.Computed(981.7477, 250), "982"},
		{usual.Computed(981.7477, 0), "981.7"},
		{usual.Spread(981.7477, 12.34), "12"},
		{usual.Spread(981.7477, 0.0996), "0.10"},
		{usual.Spread(981.7477, 0.00031), "0.00031"},
		{usual.Spread(981.7477, 0), ""},
		{usual.Spread(100, 4.5e-16), ""},
		{usual.Computed(100, 4.5e-16), "100.0"},
		{usual.Computed(0, 9.4e-261), "0"},
		{usual.Spread(0, 9.4e-261), ""},
		{usual.Computed(4e-262, 9.4e-261), "4.000e-262"},
		{usual.Typed(125, nan), "125"},
		{usual.Typed(125, 0.1), "125.00"},
		{usual.Typed(1205.75, nan), "1205.75"},
		{usual.Typed(19.994796, nan), "19.99"},
		{usual.Typed(206000000000, nan), "2.06e11"},
		{usual.Typed(0.00002, nan), "2e-5"},
		{usual.Typed(-0.2, nan), "-0.2"},
		{usual.apart(999.97, nan, 1000), "999.97"},
		{usual.apart(1000, nan, 1000), "1000"},
		{usual.apart(1000*(1-1e-14), nan, 1000), "1000"},
		{usual.apart(999.999999, nan, nan, 1000), "999.999999"},
		{usual.apart(981.7477, nan, 1000, 1200), "981.7"},
		{usual.apart(999.6, 20, 1000), "999.6"},
		{NumberStyle{Digits: 6}.Computed(981.7477, 12), "981.748"},
		{NumberStyle{Digits: 2}.Computed(981.7477, nan), "982"},
		{NumberStyle{Digits: 6}.Typed(125, nan), "125.000"},
	} {
		if tc.got != tc.want {
			t.Errorf("got %q, want %q", tc.got, tc.want)
		}
	}
}
