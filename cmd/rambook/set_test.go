package main

import (
	"testing"
)

func TestQuoteArgument(t *testing.T) {
	for word, want := range map[string]string{
		"575":      "575",
		"21.5 MPa": "'21.5 MPa'",
		"":         "''",
		"it's":     `'it'\''s'`,
		"$HOME":    "'$HOME'",
	} {
		if got := quoteArgument(word); got != want {
			t.Errorf("quoteArgument(%q) = %s, want %s", word, got, want)
		}
	}
}
