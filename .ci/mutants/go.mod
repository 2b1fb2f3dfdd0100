module allup/ci/mutants

go 1.26.0
