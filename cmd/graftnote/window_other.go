//go:build !windows

package main

// holdWindow has nothing to do where windows stay open.
func holdWindow() {}
