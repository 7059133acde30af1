package duct

// State is the state that was solved. The answer shares nothing with the result.
func (r *Result) State() State { return r.state.st.clone() }
