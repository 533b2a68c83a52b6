//go:build race

package views

const raced = true
