package calc

// hydraulicFunctions are the functions that a formula of one cell cannot hold.
var hydraulicFunctions = []*Function{}
