package calc

import (
	"fmt"
	"slices"

	"rambook/calc/words"
)

// warnTexts warns of a text that equals none of the literals it is compared
// with: mostly a typing slip in a choice.
func (c *compiler) warnTexts() {
	literals := map[*Quantity][]string{}
	c.model.literals = literals
	for _, f := range c.formulas {
		if f.root == nil {
			continue
		}
		f.root.walk(func(n *node) {
			if n.kind != binaryNode || n.name != "==" && n.name != "!=" {
				return
			}
			for i, a := range n.args {
				other := n.args[1-i]
				if a.quantity == nil || !a.quantity.IsText() || other.kind != textNode {
					continue
				}
				if !slices.Contains(literals[a.quantity], other.name) {
					literals[a.quantity] = append(literals[a.quantity], other.name)
				}
			}
		})
	}
	for _, q := range c.model.Quantities {
		if q.entry.kind != textEntry {
			continue
		}
		if message, hint := c.model.neverCompared(q, q.entry.cell.Text); message != "" {
			c.warn(q.entry.fault(message, hint))
		}
	}
}

// neverCompared says so if a text equals none of the literals that its
// quantity is compared with.
func (m *Model) neverCompared(q *Quantity, text string) (message, hint string) {
	known := m.literals[q]
	if len(known) == 0 || slices.Contains(known, text) {
		return "", ""
	}
	return fmt.Sprintf("%s is compared with %s, never with %s", q.Name, words.Listed(quotedAll(known), len(known)), quoted(text)), didYouMean(text, known, "")
}
