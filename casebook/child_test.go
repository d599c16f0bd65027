package casebook

const childVariable = "GRAFTNOTE_TEST_CHILD"

func childMain() int { return 0 }
