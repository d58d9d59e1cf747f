package main

import (
	"errors"
	"fmt"
	"regexp"
)

// wrongValue are the ways in which the flag library says that a value is none, by what
// it wanted.
var wrongValue = []struct {
	says *regexp.Regexp
	want string
	such string
}{
	{regexp.MustCompile(`^(--[a-z-]+): expected a valid \d+ bit uint but got "(.*)"$`), "a whole number of 0 or more", "1"},
	{regexp.MustCompile(`^(--[a-z-]+): expected a valid \d+ bit int but got "(.*)"$`), "a whole number", "5"},
	{regexp.MustCompile(`^(--[a-z-]+): expected an int but got "(.*)" \(.*\)$`), "a whole number", "5"},
	{regexp.MustCompile(`^(--[a-z-]+): expected a float but got "(.*)" \(.*\)$`), "a number", "0.5"},
	{regexp.MustCompile(`^(--[a-z-]+): bool value must be .* but got "(.*)"$`), "yes or no", ""},
}

// endOfLine is what the flag library calls a value that is not there.
const endOfLine = "EOL"

// inOurWords says what to write where a flag has a value that it cannot have.
func inOurWords(err error) error {
	for _, w := range wrongValue {
		m := w.says.FindStringSubmatch(err.Error())
		switch {
		case m == nil:
		case m[2] == endOfLine:
			return fmt.Errorf("%s wants %s: write %s %s", m[1], w.want, m[1], w.such)
		case w.such == "":
			return fmt.Errorf("%s %q is not %s: write instead %s alone, or leave it out", m[1], m[2], w.want, m[1])
		default:
			return fmt.Errorf("%s %q is not %s: write instead %s %s", m[1], m[2], w.want, m[1], w.such)
		}
	}
	if m := missingArgument.FindStringSubmatch(err.Error()); m != nil {
		return errors.New(m[1] + " is missing")
	}
	return err
}

// missingArgument is how the flag library says that an argument is not there.
var missingArgument = regexp.MustCompile(`^expected "(<[a-z]+>)"`)
