(function(d){d.className="js";try{var s=localStorage;d.dataset.units=s.units||"both";if(s.light)d.dataset.light=s.light}catch(e){}})(document.documentElement)
