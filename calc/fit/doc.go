// Package fit finds the values of givens at which a model agrees with what was
// read: several at once in the readings of all cases together, or in each case
// the few that its readings speak against.
package fit
