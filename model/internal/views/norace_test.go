//go:build !race

package views

const raced = false
