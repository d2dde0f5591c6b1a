(function(d){d.className="js";try{var s=localStorage;d.dataset.units=s["shotbook.units"]||"both";s=s["shotbook.light"];if(s)d.dataset.light=s}catch(e){}})(document.documentElement)
