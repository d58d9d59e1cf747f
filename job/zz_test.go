package job
import ("testing";"os";"encoding/json";"fmt")
func TestZZ(t *testing.T){ sh,err:=Library(); if err!=nil {t.Fatal(err)}
 b,_:=os.ReadFile("testdata/v1/no-charge.yaml"); j,err:=Read("no-charge.yaml",b,sh); if err!=nil {t.Fatal(err)}
 j.System=nil; x,_:=json.MarshalIndent(j,""," "); fmt.Println(string(x)) }
