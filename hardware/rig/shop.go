package rig

import _ "embed"

//go:embed shop.yaml
var demoShop []byte

// DemoShop returns the description of the demonstration's shop: an invented workshop that makes sash windows and stairs.
func DemoShop() []byte { return append([]byte(nil), demoShop...) }
