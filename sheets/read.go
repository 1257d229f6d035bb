package sheets

// Read reads one CSV file. The file is named in problems as given; the
// sheet's name is made from it. A file that is refused as a whole gives a nil
// sheet; any other problem leaves the rest of the sheet readable.
func Read(file string, data []byte) (*Sheet, []Problem) {
	return nil, []Problem{{File: file, Message: "reading is not written yet"}}
}
