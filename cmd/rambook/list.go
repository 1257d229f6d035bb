package main

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

// list is a flag that takes several words, parted by commas or by naming the flag
// again. A comma inside brackets or double quotes parts nothing.
type list []string

// Decode adds the words of one use of the flag to those before.
func (l *list) Decode(context *kong.DecodeContext) error {
	var text string
	if err := context.Scan.PopValueInto("list", &text); err != nil {
		return err
	}
	text = strings.TrimPrefix(text, numberShield)
	parts := words.Parts(text)
	for i, part := range parts {
		if parts[i] = words.Unquoted(part); parts[i] == "" {
			return fmt.Errorf("%s has nothing between two commas, or behind the last",
				words.Quoted(page.Printable(text)))
		}
	}
	if len(parts) == 0 {
		return fmt.Errorf("nothing is named")
	}
	*l = append(*l, parts...)
	return nil
}
