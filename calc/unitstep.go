package calc

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc/function"
	"rambook/units"
)

// UnitStep is how the units that a formula puts together become the unit of its
// row: MPa*cm2, each of which is 0.1 kN.
type UnitStep struct {
	Unit   string  // what the units of the formula come to before any is converted
	Factor float64 // one of it, in the unit of the row
	Number float64 // the whole result in it; NaN where the formula adds several of these, or is but one value
}

// unitSteps finds the steps from the units that a formula names to that of its
// row, in the order of its terms. There is none where they are the same, nor for a
// term that is no product of units, such as a value of a curve.
func (q *Quantity) unitSteps(f *formula, value float64) []UnitStep {
	if q.Unit.Kind != units.Ordinary || q.Unit.Dim == units.Plain {
		return nil
	}
	terms := termsOf(f.tree(), nil)
	var steps []UnitStep
	for _, n := range terms {
		p, ok := n.unitProduct()
		if !ok {
			return nil // the step of the others alone would not lead to the result
		}
		step, ok := p.step(q.Unit)
		if !ok || p.sameAs(q.Unit) {
			continue
		}
		if len(terms) == 1 && terms[0].kind != quantityNode {
			step.Number = value / step.Factor
		}
		if !slices.ContainsFunc(steps, func(s UnitStep) bool { return s.Unit == step.Unit }) {
			steps = append(steps, step)
		}
	}
	return steps
}

// termsOf lists what a formula adds and subtracts, or chooses between.
func termsOf(n *node, terms []*node) []*node {
	switch {
	case n.kind == unaryNode && n.name == "-":
		return termsOf(n.args[0], terms)
	case n.kind == binaryNode && (n.name == "+" || n.name == "-"):
		return termsOf(n.args[1], termsOf(n.args[0], terms))
	case n.kind == choiceNode:
		return termsOf(n.args[2], termsOf(n.args[1], terms))
	case n.kind == callNode && slices.Contains([]string{"min", "max", "abs"}, n.name) && n.over == "":
		for _, a := range n.args {
			terms = termsOf(a, terms)
		}
		return terms
	}
	return append(terms, n)
}

// unitPower is a symbol and how often it is multiplied, below 0 divided.
type unitPower struct {
	symbol string
	power  float64
}

// unitProduct is a product of units in the order in which they are met.
type unitProduct []unitPower

// times multiplies by a power of another product.
func (p unitProduct) times(o unitProduct, power float64) unitProduct {
	p = slices.Clone(p)
	for _, u := range o {
		at := slices.IndexFunc(p, func(have unitPower) bool { return have.symbol == u.symbol })
		if at < 0 {
			at = len(p)
			p = append(p, unitPower{symbol: u.symbol})
		}
		p[at].power += power * u.power
	}
	return slices.DeleteFunc(p, func(u unitPower) bool { return u.power == 0 })
}

// unitProduct is what the units below a node come to. It is false where they
// come to none, as in a sum of terms in several units.
func (n *node) unitProduct() (unitProduct, bool) {
	switch n.kind {
	case numberNode:
		return nil, true
	case symbolNode:
		if n.typ.Dim == units.Plain {
			return nil, true
		}
		for _, constant := range units.Constants {
			if constant.Name == n.name {
				return productOf(constant.Unit)
			}
		}
		return unitProduct{{n.name, 1}}, true
	case quantityNode:
		return productOf(n.quantity.Unit)
	case lookupNode:
		if n.data.typ.Sort == function.Number {
			return productOf(n.data.unit)
		}
	case cycleNode:
		return productOf(n.cycle.value.Unit)
	case unaryNode:
		return n.args[0].unitProduct()
	case callNode:
		if n.name == "sqrt" {
			p, ok := n.args[0].unitProduct()
			return unitProduct(nil).times(p, 0.5), ok
		}
		return nil, n.typ.Sort == function.Number && n.typ.Dim == units.Plain
	case binaryNode:
		return n.unitsOfBoth()
	}
	return nil, false
}

func (n *node) unitsOfBoth() (unitProduct, bool) {
	p, ok := n.args[0].unitProduct()
	if !ok {
		return nil, false
	}
	if n.name == "^" || n.name == "**" {
		exponent := n.args[1]
		if exponent.kind == numberNode {
			return unitProduct(nil).times(p, exponent.number), true
		}
		return nil, len(p) == 0
	}
	q, ok := n.args[1].unitProduct()
	switch {
	case !ok:
		return nil, false
	case n.name == "*":
		return p.times(q, 1), true
	case n.name == "/":
		return p.times(q, -1), true
	}
	return p, (n.name == "+" || n.name == "-") && slices.Equal(p, q)
}

// productOf takes the symbol of a unit apart. What is a mere number, such as a
// percentage, is left out.
func productOf(u units.Unit) (unitProduct, bool) {
	if u.Kind != units.Ordinary {
		return nil, false
	}
	if u.Dim == units.Plain {
		return nil, true
	}
	if strings.ContainsAny(u.Symbol, "() ·⋅") {
		return unitProduct{{u.Symbol, 1}}, true
	}
	var p unitProduct
	sign, rest := 1.0, u.Symbol
	for rest != "" {
		at := strings.IndexAny(rest, "*/")
		if at < 0 {
			at = len(rest)
		}
		p = p.times(powerOf(rest[:at]), sign)
		if at == len(rest) {
			break
		}
		sign = map[byte]float64{'*': 1, '/': -1}[rest[at]]
		rest = rest[at+1:]
	}
	return p, true
}

// sameAs reports whether a product is a unit, in whatever order it is written.
func (p unitProduct) sameAs(u units.Unit) bool {
	other, ok := productOf(u)
	return ok && len(p.times(other, -1)) == 0
}

// powerOf takes one factor apart: mm^2 and mm2 are both a power of mm.
func powerOf(factor string) unitProduct {
	symbol, exponent, found := strings.Cut(factor, "^")
	if !found {
		symbol = strings.TrimRight(factor, "23456")
		exponent = factor[len(symbol):]
	}
	if power, err := strconv.ParseFloat(exponent, 64); err == nil {
		if _, known := units.Lookup(symbol); known {
			return unitProduct{{symbol, power}}
		}
	}
	return unitProduct{{factor, 1}}
}

// step converts one of a product into a unit. It is false if that is none of its kind.
func (p unitProduct) step(to units.Unit) (UnitStep, bool) {
	root := slices.ContainsFunc(p, func(u unitPower) bool { return u.power != math.Trunc(u.power) })
	if root {
		p = unitProduct(nil).times(p, 2)
	}
	text := p.String()
	u, err := units.Parse(text)
	if err != nil || u.Kind != units.Ordinary {
		return UnitStep{}, false
	}
	si, dim := u.DiffToSI(1), u.Dim
	if root {
		var fault error
		if dim, fault = dim.Pow(0.5); fault != nil {
			return UnitStep{}, false
		}
		si, text = math.Sqrt(si), "sqrt("+text+")"
	}
	if dim != to.Dim {
		return UnitStep{}, false
	}
	return UnitStep{Unit: text, Factor: to.DiffFromSI(si), Number: math.NaN()}, true
}

// String writes the product as a formula would: what multiplies first.
func (p unitProduct) String() string {
	var above, below []string
	for _, u := range p {
		power := math.Abs(u.power)
		text := u.symbol
		if power != 1 {
			digits := strconv.FormatFloat(power, 'g', -1, 64)
			if _, known := units.Lookup(text + digits); known {
				text += digits
			} else {
				text += "^" + digits
			}
		}
		if u.power > 0 {
			above = append(above, text)
		} else {
			below = append(below, text)
		}
	}
	text := strings.Join(above, "*")
	if text == "" {
		text = "1"
	}
	switch len(below) {
	case 0:
		return text
	case 1:
		return text + "/" + below[0]
	}
	return text + "/(" + strings.Join(below, "*") + ")"
}
