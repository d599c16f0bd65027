//go:build race

package schema_test

const mostAllocated = 200 << 20
