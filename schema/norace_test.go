//go:build !race

package schema_test

const mostAllocated = 150 << 20
