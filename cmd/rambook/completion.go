package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"rambook/sheets"
)

type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

func (completionCommand) Help() string {
	return "Example:\n\n  source <(rambook completion bash)\n  rambook completion fish | source"
}

// completionScripts ask `rambook names` for the candidates, so that commands,
// flags, quantities and sheets are known in one place.
var completionScripts = map[string]string{
	"bash": `_rambook() {
	local IFS=$'\n'
	COMPREPLY=($(compgen -W "$(rambook names -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)" -- "${COMP_WORDS[COMP_CWORD]}"))
}
complete -o default -F _rambook rambook
`,
	"zsh": `#compdef rambook
_rambook() {
	local -a names
	names=("${(@f)$(rambook names -- "${(@)words[2,CURRENT]}" 2>/dev/null)}")
	names=("${(@)names:#}")
	if (( $#names )); then compadd -a names; else _files; fi
}
if [ "$funcstack[1]" = "_rambook" ]; then _rambook "$@"; else compdef _rambook rambook; fi
`,
	"fish": `function __rambook_names
	set -l words (commandline -opc) (commandline -ct)
	rambook names -- $words[2..-1] 2>/dev/null
end
complete -c rambook -a '(__rambook_names)'
`,
}

// Run prints the script of one shell.
func (c *completionCommand) Run(s *session) error {
	s.out.WriteString(completionScripts[c.Shell])
	return nil
}

// namesCommand prints, one a line, what the last of the given words can be.
type namesCommand struct {
	Words []string `arg:"" optional:"" sep:"none"`
}

// Run finds the command among the words and asks the grammar what stands at
// the place of the last word.
func (c *namesCommand) Run(s *session, parser *kong.Kong) error {
	words, last := c.Words, ""
	if n := len(words); n > 0 {
		words, last = words[:n-1], words[n-1]
	}
	for _, name := range candidates(parser.Model.Node, words, last) {
		fmt.Fprintln(&s.out, name)
	}
	return nil
}

// candidates walks the words as the parser would and lists what may follow.
func candidates(node *kong.Node, words []string, last string) []string {
	positionals := 0
	var pending *kong.Flag // a flag that waits for its value
	for _, word := range words {
		switch {
		case pending != nil:
			pending = nil
		case strings.HasPrefix(word, "-"):
			if flag := flagOf(node, word); flag != nil && !flag.IsBool() && !strings.Contains(word, "=") {
				pending = flag
			}
		default:
			if child := childOf(node, word); child != nil {
				node = child
			} else {
				positionals++
			}
		}
	}
	switch {
	case pending != nil:
		return valuesOf(pending.Value)
	case strings.HasPrefix(last, "-"):
		return flagNames(node)
	case len(node.Children) > 0:
		return commandNames(node)
	case positionals < len(node.Positional):
		return valuesOf(node.Positional[positionals])
	}
	return nil
}

func childOf(node *kong.Node, name string) *kong.Node {
	for _, child := range node.Children {
		if child.Name == name {
			return child
		}
	}
	return nil
}

func flagOf(node *kong.Node, word string) *kong.Flag {
	name, _, _ := strings.Cut(strings.TrimLeft(word, "-"), "=")
	for _, group := range node.AllFlags(true) {
		for _, flag := range group {
			if flag.Name == name || flag.Short != 0 && string(flag.Short) == name {
				return flag
			}
		}
	}
	return nil
}

func flagNames(node *kong.Node) []string {
	var list []string
	for _, group := range node.AllFlags(true) {
		for _, flag := range group {
			list = append(list, "--"+flag.Name)
		}
	}
	return list
}

func commandNames(node *kong.Node) []string {
	var list []string
	for _, child := range node.Children {
		if !child.Hidden {
			list = append(list, child.Name)
		}
	}
	return list
}

// valuesOf lists what an argument or a flag's value can be, by its enum or by
// its `complete` tag. Anything else is left to the shell.
func valuesOf(value *kong.Value) []string {
	if value.Enum != "" {
		return slices.DeleteFunc(value.EnumSlice(), func(s string) bool { return s == "" })
	}
	kind := value.Tag.Get("complete")
	if kind == "starter" {
		return sheets.StarterNames()
	}
	list, ok := completions[kind]
	if !ok {
		return nil
	}
	book, err := openNotebook("")
	if err != nil {
		return nil
	}
	var names []string
	for _, sheet := range book.Sheets {
		names = append(names, list(sheet)...)
	}
	return names
}

// completions list the names that a sheet adds to one kind of argument.
var completions = map[string]func(*sheets.Sheet) []string{
	"sheet": func(sheet *sheets.Sheet) []string { return []string{sheet.Name} },
	"cases": func(sheet *sheets.Sheet) []string {
		if sheet.Kind != sheets.Cases {
			return nil
		}
		return []string{sheet.Name}
	},
	"quantity": func(sheet *sheets.Sheet) []string {
		var names []string
		for _, row := range sheet.Rows {
			names = append(names, row.Name.Text)
		}
		return names
	},
}
