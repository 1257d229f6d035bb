package main

import (
	"math"
	"testing"
)

var nan = math.NaN()

func TestNumberStyle(t *testing.T) {
	usual := numberStyle{}
	for _, tc := range []struct {
		got, want string
	}{
		{usual.computed(981.7477, nan), "981.7"},
		{usual.computed(0, nan), "0"},
		{usual.computed(-0.00001, 0.1), "0.00"},
		{usual.computed(9.99996, nan), "10.00"},
		{usual.computed(1234567.8, nan), "1234568"},
		{usual.computed(12345678, nan), "1.235e7"},
		{usual.computed(0.000012345, nan), "1.234e-5"},
		{usual.computed(-0.000012345, nan), "-1.234e-5"},
		{usual.computed(nan, nan), ""},
		{usual.computed(981.7477, 12.34), "982"},
		{usual.computed(981.7477, 0.0996), "981.75"},
		{usual.computed(981.7477, 250), "982"},
		{usual.computed(981.7477, 0), "981.7"},
		{usual.spread(981.7477, 12.34), "12"},
		{usual.spread(981.7477, 0.0996), "0.10"},
		{usual.spread(981.7477, 0.00031), "0.00031"},
		{usual.spread(981.7477, 0), ""},
		{usual.spread(100, 4.5e-16), ""},
		{usual.computed(100, 4.5e-16), "100.0"},
		{usual.typed(125, nan), "125"},
		{usual.typed(125, 0.1), "125.00"},
		{usual.typed(1205.75, nan), "1205.75"},
		{usual.typed(19.994796, nan), "19.99"},
		{usual.typed(206000000000, nan), "2.06e11"},
		{usual.typed(0.00002, nan), "2e-5"},
		{usual.typed(-0.2, nan), "-0.2"},
		{usual.apart(999.97, nan, 1000), "999.97"},
		{usual.apart(1000, nan, 1000), "1000"},
		{usual.apart(1000*(1-1e-14), nan, 1000), "1000"},
		{usual.apart(999.999999, nan, nan, 1000), "999.999999"},
		{usual.apart(981.7477, nan, 1000, 1200), "981.7"},
		{usual.apart(999.6, 20, 1000), "999.6"},
		{numberStyle{digits: 6}.computed(981.7477, 12), "981.748"},
		{numberStyle{digits: 2}.computed(981.7477, nan), "982"},
		{numberStyle{digits: 6}.typed(125, nan), "125.000"},
	} {
		if tc.got != tc.want {
			t.Errorf("got %q, want %q", tc.got, tc.want)
		}
	}
}
