package main

import (
	"strings"

	"github.com/clipperhouse/displaywidth"

	"rambook/sheets"
)

// columnGap is the room that a plain table leaves between two columns.
const columnGap = 2

// tableWidth is how wide the table will be on a screen.
func tableWidth(table *sheets.Table) int {
	total := -columnGap
	for i, column := range table.Columns {
		whole, before, after := displaywidth.String(column.Header), 0, 0
		for _, row := range table.Rows {
			left, right := row.Cells[i], ""
			if dot := strings.IndexByte(left, '.'); column.Align == sheets.Decimal && dot >= 0 {
				left, right = left[:dot], left[dot:]
			}
			before = max(before, displaywidth.String(left))
			after = max(after, displaywidth.String(right))
		}
		total += columnGap + max(whole, before+after)
	}
	return total
}
