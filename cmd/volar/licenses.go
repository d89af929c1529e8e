package main

import "volar/internal/licences"

// licensesCmd prints the notices that go with every copy of the program.
type licensesCmd struct{}

func (licensesCmd) Run(e *environment) error {
	text, err := licences.Notices()
	if err != nil {
		return err
	}
	_, err = e.out.Write(text)
	return err
}
