// Pawl is a register of a technician's tools in which what was recorded stays
// recorded. See package cli for the command line.
package main

import (
	"os"

	"pawl/cli"
)

func main() { os.Exit(cli.Run(os.Args, os.Stdin, os.Stdout, os.Stderr)) }
