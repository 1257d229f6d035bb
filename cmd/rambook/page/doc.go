// Package page is how figures, sentences and tables of an answer are laid out: for
// people on a page, for programs as rows and as JSON. It takes what calc has found
// out and asks the model nothing but what a sentence needs; it reads no file of a
// notebook, and prints nothing.
//
// The numbers of a calc.Judged are in the unit of its row. A number that is absent
// is NaN, and is written as nothing.
package page
