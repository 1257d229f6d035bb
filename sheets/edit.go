package sheets

import "errors"

// ReplaceCell returns data with the text of one cell replaced and every other
// byte kept. The record is the one that stands on the physical line given,
// counted from 1, and field is the cell's index in it, from 0. A record too
// short for the field is extended with commas.
func ReplaceCell(data []byte, line, field int, text string) ([]byte, error) {
	return nil, errors.New("not written yet")
}

// SetCell is ReplaceCell with the column named by its header. A column that
// the header does not have is added at its end; other records stay as they
// are.
func SetCell(data []byte, line int, column, text string) ([]byte, error) {
	return nil, errors.New("not written yet")
}

// AppendRecord returns data with one record added at its end, in the line
// ends of the file, and every other byte kept.
func AppendRecord(data []byte, fields []string) ([]byte, error) {
	return nil, errors.New("not written yet")
}
