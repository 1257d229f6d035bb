package report

// signatories are those who sign a report.
var signatories = []string{"Measured and checked", "Taken over"}
