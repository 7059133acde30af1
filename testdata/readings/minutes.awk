# Turns the CSV that "ductward export" writes into rows of one-minute means: each sensor's rows of one minute become
# one row with their mean, standard deviation and number. Minutes with few samples (a fan at rest) are left out, and so
# are the repeats of switches that did not move.
BEGIN { FS = ","; print "time,channel,value,unit,span_s,sd,n" }
NR == 1 { next }
{ sub(/\r$/, "") }
$2 ~ /^(gate|selector)\// || $2 ~ /\/fan$/ {
  if (!($2 in last) || last[$2] != $3) printf "%s,%s,%s,,,,\n", $1, $2, $3
  last[$2] = $3
  next
}
keep != "" && $2 !~ keep { next }
{
  minute = int(($10 - 0.001) / 60)
  if (($2 in now) && now[$2] != minute) put($2)
  now[$2] = minute
  n[$2]++; sum[$2] += $3; square[$2] += $3 * $3; at[$2] = $1; unit[$2] = $4
}
END { for (c in n) put(c) }
function put(c,    mean, var) {
  mean = sum[c] / n[c]
  if (n[c] >= 50) {
    var = (square[c] - n[c] * mean * mean) / (n[c] - 1)
    printf "%s,%s,%.1f,%s,60,%.1f,%d\n", at[c], c, mean, unit[c], sqrt(var > 0 ? var : 0), n[c]
  }
  n[c] = 0; sum[c] = 0; square[c] = 0
}
