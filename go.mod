module spotface

go 1.26

require (
	github.com/goccy/go-yaml v1.19.2
	github.com/golang/geo v0.0.0-20260818125358-b200a1149890
	github.com/hschendel/stl v1.0.4
	github.com/spf13/cobra v1.10.2
	github.com/spf13/pflag v1.0.9
	github.com/stretchr/testify v1.12.1
	gonum.org/v1/gonum v0.17.0
	pgregory.net/rapid v1.3.0
)

require (
	github.com/inconshreveable/mousetrap v1.1.0 // indirect
	go.yaml.in/yaml/v3 v3.0.5 // indirect
)
